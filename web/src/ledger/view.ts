// The fit ledger as an error budget: per mate its contributors against what is allowed, and the chance.
import { h } from "../dom.ts";
import type { Contributor, MateRow, Sheet } from "../generated/sheet.ts";
import type { Process } from "../process/process.ts";
import { toMate } from "../steps.ts";
import type { Store } from "../store.ts";
import { writtenAt } from "../why/place.ts";
import { finding } from "../why/view.ts";
import { chance, degrees, micrometres, percent, ratio } from "../words.ts";
import { fitDrawing } from "./fit_drawing.ts";
import { type Observed, inWords, probabilityScale } from "./scale.ts";

const SHOWN = 6;

export class LedgerView {
  readonly root = h("section", { class: "ledger", "aria-label": "Fit ledger" });
  private process: Process;
  private readonly store: Store;
  private readonly entries = new Map<string, { root: HTMLElement; button: HTMLButtonElement; body: HTMLElement }>();

  constructor(process: Process, store: Store) {
    this.process = process;
    this.store = store;
    this.replace(process);
    store.subscribe((now, before) => {
      if (now.mate !== before.mate) this.open(true);
    });
  }

  replace(process: Process): void {
    const top = this.root.scrollTop;
    this.process = process;
    this.entries.clear();
    const sheet = process.sheet;
    const names = sheet.chart?.mates ?? sheet.project?.product.mates.map((m) => m.name) ?? [];
    const whole = sheet.ledger
      ? `Whole build ${chance(sheet.ledger.build_yield)}; without touches ${chance(sheet.ledger.build_yield_untouched)}.`
      : "Not budgeted yet.";
    this.root.replaceChildren(
      h("div", { class: "head" }, h("h2", {}, "Fit ledger"), h("p", {}, `${whole} Wanted of a mate: ${percent(sheet.project?.target ?? 0)} %. Bars: three sigma against what is allowed; then the margin ratio.`)),
      ...names.map((name) => this.entry(name)),
    );
    this.open(false);
    this.root.scrollTop = top;
  }

  private entry(name: string): HTMLElement {
    const row = this.process.sheet.ledger?.rows.find((r) => r.mate === name);
    const body = h("div", { class: "budget" });
    const button = h(
      "button", { type: "button", class: "mate", "aria-expanded": "false" },
      h("span", { class: "name" }, name), h("span", { class: "fit", title: row?.fit ?? null }, row?.fit ?? ""),
      row ? h("span", { class: "against" }, this.total(row)) : h("span", { class: "against none" }, "not budgeted"),
      h("span", { class: "margin" }, row ? ratio(row.margin_ratio) : ""),
      h("span", { class: "chance" }, row ? `${this.verdict(row)} ${chance(row.probability)}` : ""),
    );
    button.addEventListener("click", () => toMate(this.store, this.process, name));
    const root = h("article", { class: "entry" }, h("h3", {}, button), body);
    this.entries.set(name, { root, button, body });
    return root;
  }

  /** Whether it reaches the target: in a sign and not by colour alone. */
  private verdict(row: MateRow): string {
    const target = this.process.sheet.project?.target ?? 1;
    if (row.probability.low >= target) return "✓";
    return row.probability.high >= target ? "?" : "✕";
  }

  /** One bar: three sigma, of what is allowed. */
  private total(row: MateRow): HTMLElement {
    const three = 3 * row.after.sigma_major;
    const most = Math.max(three, row.allowed) || 1;
    const fill = h("i", { class: three > row.allowed ? "fill over" : "fill" });
    const mark = h("i", { class: "mark" });
    fill.style.width = `${(100 * three) / most}%`;
    mark.style.left = `${(100 * row.allowed) / most}%`;
    return h("span", { class: "bar", title: `3σ ${micrometres(three)} of ${micrometres(row.allowed)} allowed` }, fill, mark);
  }

  private open(scroll: boolean): void {
    for (const [name, { root, button, body }] of this.entries) {
      const on = name === this.store.now.mate;
      button.setAttribute("aria-expanded", String(on));
      root.classList.toggle("open", on);
      body.replaceChildren(...(on ? this.budget(name) : []));
      if (on && scroll) root.scrollIntoView({ block: "start" });
    }
  }

  private budget(name: string): Node[] {
    const sheet = this.process.sheet;
    const row = sheet.ledger?.rows.find((r) => r.mate === name);
    const why = sheet.ledger?.not_budgeted.find(([mate]) => mate === name)?.[1];
    const place = writtenAt(sheet, `mate ${name}`);
    const remarks = sheet.findings.filter((f) => f.where.includes(name)).map(finding);
    const where = h("p", { class: "small" }, ...(place ? ["written at ", h("span", { class: "place" }, place)] : []));
    const no = sheet.no_plan?.mate === name ? sheet.no_plan : null;
    const noPlan = no ? [h("p", { class: "bad" }, `✕ No plan: ${no.causes.map((c) => `${c.count} × ${c.cause}${c.nearest ? ` (${c.nearest})` : ""}`).join("; ")}. ${no.change}`)] : [];
    if (!row) return [...noPlan, h("p", {}, why ?? "This mate has no row in the ledger."), where, ...remarks];
    const shown = [...row.contributors].sort((a, b) => b.share - a.share).slice(0, SHOWN);
    const drawing = fitDrawing(sheet, row);
    return [
      h("p", { class: "verdict" }, row.verdict),
      h("div", { class: "two" }, this.table(row, shown), h("div", { class: "beside" }, ...this.chances(row), ...(drawing ? [drawing] : []))),
      where, ...remarks,
    ];
  }

  private chances(row: MateRow): Node[] {
    const observed: Observed[] = this.process.sheet.reliability.flatMap((r) =>
      r.mates.filter((m) => m.mate === row.mate).map((agreement) => ({ touched: r.with_touches, agreement })),
    );
    const tried = observed.length
      ? h("ul", { class: "small" }, ...observed.map((o) => h("li", {}, inWords(o))))
      : h("p", { class: "small" }, "Not tried in simulated builds.");
    const doubt = row.probability.model_dependent ? h("p", { class: "small" }, "The band is wide because the answer depends on the contact model.") : null;
    return [probabilityScale(row.probability, this.process.sheet.project?.target ?? 1, observed), tried, ...(doubt ? [doubt] : [])];
  }

  private table(row: MateRow, shown: Contributor[]): HTMLElement {
    const widest = Math.max(row.allowed / 3, ...shown.map((c) => c.sigma)) * 1.02 || 1;
    const rest = row.contributors.reduce((sum, c) => sum + c.share, 0) - shown.reduce((sum, c) => sum + c.share, 0);
    const line = (name: string, ...values: string[]): HTMLElement =>
      h("tr", { class: "sum" }, h("th", { scope: "row", colspan: 2 }, name), h("td", { colspan: 2 }, ...values));
    return h(
      "table", {},
      h("thead", {}, h("tr", {}, ...["source", "changes", "σ against a third of what is allowed", "share"].map((t) => h("th", { scope: "col" }, t)))),
      h("tbody", {}, ...shown.map((c) => contributor(this.process.sheet, c, row.allowed / 3, widest)),
        ...(rest > 5e-4 ? [line(`others`, `${(100 * rest).toFixed(1)} % of the variance`)] : [])),
      h("tfoot", {},
        line("combined σ", `${micrometres(row.after.sigma_major)} (before touches ${micrometres(row.before.sigma_major)})`),
        line("allowed", `${micrometres(row.allowed)}, tilt ${degrees(row.allowed_angle)}`),
        line("margin ratio", `${ratio(row.margin_ratio)}`)),
    );
  }
}

function contributor(sheet: Sheet, c: Contributor, mark: number, widest: number): HTMLElement {
  const fill = h("i", { class: "fill" });
  const third = h("i", { class: "mark" });
  fill.style.width = `${(100 * c.sigma) / widest}%`;
  third.style.left = `${(100 * mark) / widest}%`;
  const notes = [c.assumed ? "assumed" : "", c.appearances > 1 ? `enters ${c.appearances} times, counted once` : "", writtenAt(sheet, `source ${c.source}`)];
  return h(
    "tr", {}, h("th", { scope: "row" }, c.source, h("small", {}, ` ${notes.filter(Boolean).join(", ")}`)), h("td", {}, c.changes),
    h("td", { class: "bars" }, h("span", { class: "bar" }, fill, third), h("span", { class: "value" }, micrometres(c.sigma))),
    h("td", { class: "value" }, `${(100 * c.share).toFixed(0)} %`),
  );
}
