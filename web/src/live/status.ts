// What goes on: the line, the checking of saved files, what has changed by it.
import { h } from "../dom.ts";
import type { Sheet } from "../generated/sheet.ts";
import { seconds } from "../words.ts";

export class Status {
  readonly root = h("p", { class: "status", role: "status", "aria-live": "polite" });
  private lost = false;
  private text = "Live: saved files are checked again.";
  private busy = false;

  constructor() {
    this.show();
  }

  line(down: boolean): void {
    if (down === this.lost) return;
    this.lost = down;
    this.show();
  }

  work(text: string, busy: boolean): void {
    this.text = text;
    this.busy = busy;
    this.show();
  }

  private show(): void {
    this.root.className = `status ${this.lost ? "lost" : this.busy ? "busy" : "live"}`;
    this.root.textContent = this.lost ? "✕ Connection lost. What you see may be old; trying again." : `${this.busy ? "… " : ""}${this.text}`;
  }
}

/** In words, what is different. */
export function changes(before: Sheet, after: Sheet): string {
  const found: string[] = [];
  const say = (what: string, a: string, b: string): void => {
    if (a !== b) found.push(`${what} ${a} → ${b}`);
  };
  if (before.chart && after.chart) {
    say("cycle", `${seconds(before.chart.makespan_s)} s`, `${seconds(after.chart.makespan_s)} s`);
    say("elements", String(before.chart.elements.length), String(after.chart.elements.length));
  }
  for (const row of after.ledger?.rows ?? []) {
    const old = before.ledger?.rows.find((r) => r.mate === row.mate);
    if (old) say(`${row.mate} margin`, old.margin_ratio.toFixed(2), row.margin_ratio.toFixed(2));
  }
  const errors = (s: Sheet): number => s.findings.filter((f) => f.severity === "error").length;
  say("mistakes", String(errors(before)), String(errors(after)));
  if (after.no_plan && !before.no_plan) found.push(`no plan any more for ${after.no_plan.mate}`);
  if (!after.no_plan && before.no_plan) found.push("there is a plan again");
  return found.length ? `Changed: ${found.join("; ")}.` : "";
}
