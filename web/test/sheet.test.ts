// The JSON that Python writes is what this page reads.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { spread } from "../src/chart/spread.ts";
import { BufferAttribute, BufferGeometry } from "three";
import { creased } from "../src/cell/creased.ts";
import { covarianceAt, principal, stageAt } from "../src/cell/estimate.ts";
import type { LogLine, Sheet } from "../src/generated/sheet.ts";
import schema from "../src/generated/sheet.schema.json" with { type: "json" };
import { amount, behind, chartTime, readings } from "../src/live/readings.ts";
import { readSheet } from "../src/live/validate.ts";
import { Process } from "../src/process/process.ts";
import { chance, phrase } from "../src/words.ts";

const golden = (): Record<string, unknown> =>
  JSON.parse(readFileSync(new URL("../../tests/page/golden_sheet.json", import.meta.url), "utf-8")) as Record<string, unknown>;

test("the golden sheet is read, and drawn from", () => {
  const sheet: Sheet = readSheet(golden(), schema);
  const process = new Process(sheet);
  assert.ok(process.elements.length > 5);
  assert.equal(process.makespan, sheet.chart?.makespan_s);
  for (const element of process.elements) assert.match(phrase(element), /^[a-z]+/);
});

test("a sheet of another version is refused with its place", () => {
  const wrong = golden();
  (wrong.chart as { elements: { kind: string }[] }).elements[0]!.kind = "dance";
  assert.throws(() => readSheet(wrong, schema), /elements\/0\/kind/);
  const more = { ...golden(), surprise: 1 };
  assert.throws(() => readSheet(more, schema), /surprise|additional/i);
});

test("labels keep their order and their distance", () => {
  assert.deepEqual(spread([0, 1, 50], 10), [-4.5, 5.5, 50]);
});

test("the axes of an ellipsoid: a matrix made from known ones", () => {
  const [c, s] = [Math.cos(0.4), Math.sin(0.4)];
  const matrix = [[4 * c * c + s * s, 3 * c * s, 0], [3 * c * s, 4 * s * s + c * c, 0], [0, 0, 9]];
  const found = principal(matrix).map((a) => a.variance).sort((a, b) => a - b);
  [1, 4, 9].forEach((v, i) => assert.ok(Math.abs((found[i] ?? 0) - v) < 1e-12));
});

test("the estimate is that before the touches until they have ended, then that after", () => {
  const sheet = readSheet(golden(), schema);
  const process = new Process(sheet);
  const row = sheet.ledger?.rows[0];
  assert.ok(row && sheet.ledger);
  const touch = process.elements.find((e) => e.id === row.touches[0]);
  assert.ok(touch, "the golden ledger names a touch of the golden chart");
  const [before, after] = [row.before.covariance[0]?.[0], row.after.covariance[0]?.[0]];
  assert.notEqual(before, after);
  assert.equal(covarianceAt(process, sheet.ledger, row, 0)[0]?.[0], before);
  assert.equal(covarianceAt(process, sheet.ledger, row, process.makespan)[0]?.[0], after);
});

test("the estimate is in the hand first, and goes from one to the other while jaws close", () => {
  const sheet = readSheet(golden(), schema);
  const row = sheet.ledger?.rows[0];
  assert.ok(row && sheet.ledger && sheet.chart);
  const process = new Process(sheet);
  const touch = process.elements.find((e) => e.id === row.touches[0])!;
  const grasp = process.elements.filter((e) => e.grasp !== null && e.start_s + e.duration_s <= touch.start_s).pop();
  assert.ok(grasp, "the golden chart grasps before it touches");
  const of = (a: number, b: number): number[][] => [[a, 0, 0], [0, b, 0], [0, 0, 1]];
  row.jaws = [{ element: grasp.id, item: grasp.grasp!.item, outcomes: [], before: of(9, 4), after: of(1, 4) }];
  const at = (time: number): { own: string; first: number | undefined } => {
    const stage = stageAt(process, sheet.ledger!, row, time);
    return { own: stage.grasp?.id ?? "", first: stage.covariance[0]?.[0] };
  };
  const end = grasp.start_s + grasp.duration_s;
  assert.deepEqual(at(grasp.start_s), { own: grasp.id, first: 9 });
  assert.ok(Math.abs((at(grasp.start_s + grasp.duration_s / 2).first ?? 0) - 5) < 1e-9);
  assert.deepEqual(at(end), { own: grasp.id, first: 1 });
  assert.deepEqual(at(touch.start_s), { own: "", first: row.before.covariance[0]?.[0] });
  assert.deepEqual(at(process.makespan), { own: "", first: row.after.covariance[0]?.[0] });
});

test("readings of a run stand beside their bands, and hands against the chart", () => {
  const sheet = readSheet(golden(), schema);
  const [one, other] = ["left", "right"].map((hand) => sheet.chart?.elements.find((e) => e.hand === hand));
  assert.ok(one && other && sheet.chart);
  sheet.windows = [{ element: one.id, event: "insertion", value: "peak_force", low: 0, high: 20, unit: "N", usual: [1, 4] }];
  const process = new Process(sheet);
  const line = (element: string, event: string, time_s: number, values: [string, number][]): LogLine => ({ time_s, element, event, values, pose: null, text: "", cause: "" });
  const lines = [
    line(one.id, "insertion", 1, [["ok", 1], ["peak_force", 12]]), line(one.id, "insertion", 2, [["ok", 1], ["peak_force", 21]]),
    line(one.id, "insertion", 3, [["ok", 0], ["peak_force", 12]]), line(other.id, "insertion", 4, [["peak_force", 3]]),
    line(one.id, "done", one.start_s + one.duration_s + 0.3, []), line(other.id, "done", other.start_s + other.duration_s - 0.2, []),
  ];
  assert.deepEqual(readings(process, lines).map((r) => r.good), [true, false, false]);
  assert.deepEqual([...behind(process, lines)].map(([h, s]) => [h, Number(s.toFixed(6))]), [["left", 0.3], ["right", -0.2]]);
  assert.equal(chartTime(process, lines[4]!), one.start_s + one.duration_s);
  assert.deepEqual([amount(0.0081, "m"), amount(Math.PI, "rad"), amount(2, "N")], ["8.10 mm", "0.50 turns", "2.0 N"]);
});

test("normals are smooth over small angles and sharp over edges", () => {
  // Two faces over the line from (0, 0, 0) to (0, 1, 0), the second rising by an angle.
  const folded = (angle: number): Float32Array => {
    const made = new BufferGeometry();
    made.setAttribute("position", new BufferAttribute(new Float32Array([0, 0, 0, 0, 1, 0, -1, 0, 0, Math.cos(angle), 0, Math.sin(angle)]), 3));
    made.setIndex([0, 1, 2, 1, 0, 3]);
    return creased(made, 0.5).getAttribute("normal").array as Float32Array;
  };
  const near = (a: number, b: number): void => assert.ok(Math.abs(a - b) < 1e-6, `${a} is not ${b}`);
  near(folded(0.2)[0]!, -Math.sin(0.1)); // at the line: half way between both
  near(folded(0.2)[6]!, 0); // away from it: of its own face
  near(folded(1)[0]!, 0);
  near(folded(1)[9]!, -Math.sin(1));
});

test("chances near one are told apart from one", () => {
  assert.equal(chance({ low: 0.99, high: 0.995 }), "99.0 to 99.5 %");
  assert.equal(chance({ low: 0.9999999, high: 0.99999999 }), "over 99.999 %");
});
