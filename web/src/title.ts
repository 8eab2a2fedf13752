// The head of the sheet: what it charts, and the figures one looks for first.
import { h } from "./dom.ts";
import type { Sheet } from "./generated/sheet.ts";
import { chance, seconds } from "./words.ts";

export function titleBlock(sheet: Sheet): HTMLElement {
  const { chart, proof, ledger } = sheet;
  const of = sheet.project?.product.mates.length ?? 0;
  const boxes: [string, string][] = [
    ["Mates planned", chart ? `${chart.mates.length} of ${Math.max(of, chart.mates.length)}` : `0 of ${of}`],
    ["Elements", chart ? String(chart.elements.length) : "no chart"],
    ["Cycle", chart ? `${seconds(chart.makespan_s)} s` : "no chart"],
    ["Proof", proof ? (proof.violations.length ? `✕ fails, ${proof.violations.length} found` : "✓ holds") : "not verified"],
    ["Least clearance", proof ? `${(1e3 * proof.smallest_clearance).toFixed(1)} mm` : "not verified"],
    ["Goes in, whole build", ledger ? chance(ledger.build_yield) : "not budgeted"],
    ["Chart, seed", chart ? `${sheet.chart_sha256.slice(0, 12)}, ${sheet.seed}` : "no chart"],
  ];
  return h(
    "header", { class: "title" },
    h("div", { class: "name" }, h("p", {}, "Two-hand process chart"), h("h1", {}, sheet.project?.name ?? "unreadable project")),
    h("dl", {}, ...boxes.map(([name, value]) => h("div", {}, h("dt", {}, name), h("dd", {}, value)))),
  );
}
