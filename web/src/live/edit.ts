// A change is proposed as a difference of the project's file. Nothing is written until the engineer accepts it.
import { h } from "../dom.ts";
import type { Sheet } from "../generated/sheet.ts";
import { type Proposal, post } from "./connection.ts";

export class EditDialog {
  readonly root = h("dialog", { class: "edit", "aria-label": "Propose a change" });
  private readonly shown = h("div", { class: "proposal" });

  open(sheet: Sheet): void {
    this.shown.replaceChildren();
    const holders = sheet.project?.cell.holders.map((o) => o.name) ?? [];
    const grippers = sheet.project?.cell.grippers.map((g) => g.name) ?? [];
    const kind = select("What", ["move holder", "widen jaws"]);
    const target = select("Which", holders);
    const [x, y, value] = [number("by x, mm", 0), number("by y, mm", 0), number("to, mm", 80)];
    const arrange = (): void => {
      const moving = kind.input.value === "move holder";
      target.input.replaceChildren(...(moving ? holders : grippers).map((name) => h("option", {}, name)));
      x.label.hidden = y.label.hidden = !moving;
      value.label.hidden = moving;
    };
    kind.input.addEventListener("change", arrange);
    arrange();
    const ask = h("button", { type: "submit" }, "Show the difference");
    const form = h("form", {}, kind.label, target.label, x.label, y.label, value.label, ask);
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      const moved = [Number(x.input.value) / 1e3, Number(y.input.value) / 1e3, 0];
      void this.propose({ kind: kind.input.value, target: target.input.value, value: kind.input.value === "move holder" ? moved : [Number(value.input.value) / 1e3] });
    });
    this.lay(form);
  }

  /** A change that the search has tried and found to help. */
  openTried(index: number): void {
    this.shown.replaceChildren();
    this.lay(null);
    void this.propose({ tried: index });
  }

  private lay(form: HTMLElement | null): void {
    const close = h("button", { type: "button" }, "Close");
    close.addEventListener("click", () => this.root.close());
    this.root.replaceChildren(h("h2", {}, "Propose a change"), ...(form ? [form] : []), this.shown, close);
    if (!this.root.open) this.root.showModal();
  }

  private async propose(what: object): Promise<void> {
    try {
      const found = await post<Proposal>("/api/propose", what);
      const accept = h("button", { type: "button", class: "accept" }, `Accept: write ${found.file}`);
      accept.addEventListener("click", () => void this.accept(found));
      this.shown.replaceChildren(h("p", {}, `${found.text}. This is all that would be written:`), difference(found.diff), accept);
    } catch (error) {
      this.refused(error);
    }
  }

  private async accept(proposal: Proposal): Promise<void> {
    try {
      await post("/api/accept", { id: proposal.id });
      this.root.close();
    } catch (error) {
      this.refused(error);
    }
  }

  private refused(error: unknown): void {
    this.shown.replaceChildren(h("p", { class: "bad", role: "alert" }, `✕ ${error instanceof Error ? error.message : String(error)}`));
  }
}

function difference(text: string): HTMLElement {
  const lines = text.split("\n").map((line) => {
    const kind = line.startsWith("+") ? "added" : line.startsWith("-") ? "removed" : "same";
    return h("span", { class: kind }, `${line}\n`);
  });
  return h("pre", { class: "diff", tabindex: 0 }, ...lines);
}

function select(text: string, options: string[]): { label: HTMLElement; input: HTMLSelectElement } {
  const input = h("select", {}, ...options.map((o) => h("option", {}, o)));
  return { label: h("label", {}, `${text} `, input), input };
}

function number(text: string, value: number): { label: HTMLElement; input: HTMLInputElement } {
  const input = h("input", { type: "number", step: "any", value, required: true });
  return { label: h("label", {}, `${text} `, input), input };
}
