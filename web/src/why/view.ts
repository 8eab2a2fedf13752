// Why: findings about the files, the reasons for no plan, what the proof found. In words, with file and line.
import { h } from "../dom.ts";
import type { Finding, NoPlan, Sheet, Violation } from "../generated/sheet.ts";
import type { Store } from "../store.ts";
import { writtenAt } from "./place.ts";

export class WhyView {
  readonly root = h("section", { class: "why", "aria-label": "Why", id: "why", tabindex: 0 });
  private readonly store: Store;
  private readonly propose: ((index: number) => void) | null;

  constructor(store: Store, propose: ((index: number) => void) | null) {
    this.store = store;
    this.propose = propose;
  }

  replace(sheet: Sheet): void {
    const errors = sheet.findings.filter((f) => f.severity === "error");
    const other = sheet.findings.filter((f) => f.severity !== "error");
    const wrong = sheet.proof?.violations ?? [];
    const blocks = [
      ...(errors.length ? [h("h2", { class: "bad" }, `✕ ${count(errors.length, "mistake")} in the files`), ...errors.map(finding)] : []),
      ...(sheet.no_plan ? this.noPlan(sheet.no_plan, writtenAt(sheet, `mate ${sheet.no_plan.mate}`)) : []),
      ...(sheet.geometry_problem ? [h("h2", { class: "bad" }, "✕ The cell cannot be drawn"), h("p", {}, sheet.geometry_problem)] : []),
      ...(wrong.length ? [h("h2", { class: "bad" }, "✕ The chart does not hold"), ...wrong.map((v) => this.violation(v))] : []),
      ...(sheet.changed.length ? [h("h2", { class: "bad" }, "! Changed since the chart was made"), h("p", {}, `${sheet.changed.join(", ")}: plan again, or keep this page open with live checking.`)] : []),
      ...(sheet.ledger?.not_budgeted ?? []).map(([mate, why]) => h("p", { class: "finding" }, h("span", { class: "place" }, `${writtenAt(sheet, `mate ${mate}`)} `), h("b", {}, `${mate} is not budgeted: `), why)),
      ...(other.length ? [h("h2", {}, count(other.length, "assumption or doubt", "assumptions and doubts")), ...other.map(finding)] : []),
      ...(sheet.proof?.assumptions ?? []).map((text) => h("p", { class: "finding" }, `The proof takes as given: ${text}`)),
    ];
    this.root.replaceChildren(...(blocks.length ? blocks : [h("p", {}, "Nothing to say against this chart.")]));
  }

  /** How many things need an eye: errors first. */
  static summary(sheet: Sheet): { text: string; bad: boolean } {
    const errors = sheet.findings.filter((f) => f.severity === "error").length;
    if (errors) return { text: `✕ ${count(errors, "mistake")}`, bad: true };
    if (sheet.no_plan) return { text: `✕ no plan: ${sheet.no_plan.mate}`, bad: true };
    if (sheet.proof?.violations.length) return { text: "✕ does not hold", bad: true };
    if (sheet.changed.length) return { text: "! chart of older files", bad: true };
    const rest = sheet.findings.length + (sheet.ledger?.not_budgeted.length ?? 0);
    return { text: rest ? `! ${count(rest, "remark")}` : "✓ nothing found", bad: false };
  }

  private noPlan(no: NoPlan, place: string): Node[] {
    const sure = no.certain ? "cannot be done (at this resolution)." : "was not found within the limits of the search.";
    const causes = no.causes.map((c) => h("li", {}, h("b", {}, `${c.count} × ${c.cause}`), c.nearest ? `; nearest: ${c.nearest}` : ""));
    const changes = no.changes.map((change, i) => {
      const text = h("span", {}, `${change.text} `, h("span", { class: "place" }, change.file));
      const button = this.propose && h("button", { type: "button" }, "Show as a change of the file");
      button?.addEventListener("click", () => this.propose?.(i));
      return h("li", {}, text, button);
    });
    return [
      h("h2", { class: "bad" }, `✕ No plan: ${no.mate} ${sure} `, place ? h("span", { class: "place" }, place) : null), h("p", {}, "Candidates ended by:"), h("ul", {}, ...causes),
      h("p", {}, no.change ? `The smallest change that works, tried: ${no.change}` : "No change that makes it work was found."),
      ...(changes.length ? [h("ul", {}, ...changes)] : []),
    ];
  }

  private violation(v: Violation): HTMLElement {
    const button = h("button", { type: "button", class: "link" }, `element ${v.element}`);
    button.addEventListener("click", () => this.store.set({ time: v.time_s, element: v.element, playing: false }));
    return h("p", { class: "finding" }, button, ` ${v.kind}: ${v.text}`);
  }
}

export function finding(f: Finding): HTMLElement {
  const place = [f.file, f.line || "", f.column || ""].filter((x) => x !== "").join(":");
  return h(
    "div", { class: `finding ${f.severity}` },
    h("p", {}, h("span", { class: "place" }, place), ` ${f.severity}: `, h("b", {}, f.where)),
    h("p", {}, `expected ${f.expected}; found ${f.found}`), f.fix ? h("p", {}, `fix: ${f.fix}`) : null,
  );
}

function count(n: number, one: string, many = `${one}s`): string {
  return `${n} ${n === 1 ? one : many}`;
}
