// What the page makes of the log of a run: times in the chart, forces against their band, lateness, where to go on.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import type { Element, Holder, LogLine, Project, Sheet } from "../src/generated/sheet.ts";
import schema from "../src/generated/sheet.schema.json" with { type: "json" };
import { lasts } from "../src/live/lasts.ts";
import { reached } from "../src/live/playing.ts";
import { stoppedAt } from "../src/live/readings.ts";
import { readSheet } from "../src/live/validate.ts";
import { expected, felt, late } from "../src/live/trace.ts";
import { Process } from "../src/process/process.ts";

const golden = (): Sheet => readSheet(JSON.parse(readFileSync(new URL("../../tests/page/golden_sheet.json", import.meta.url), "utf-8")), schema);
const line = (element: Element, event: string, time_s: number, values: [string, number][] = []): LogLine => ({ time_s, element: element.id, event, values, pose: null, text: "", cause: "" });

function first(sheet: Sheet, n: number): Element[] {
  return [...(sheet.chart?.elements ?? [])].sort((a, b) => a.start_s - b.start_s || a.number - b.number).slice(0, n);
}

test("a build is played in the chart's time, which never goes back", () => {
  const sheet = golden();
  const process = new Process(sheet);
  const [one, other] = first(sheet, 2) as [Element, Element];
  // Carried out one after another, the second twice as slow as charted.
  const begun = one.duration_s + 1;
  const lines = [line(one, "start", 0), line(one, "width", 0.1), line(one, "done", one.duration_s), line(other, "start", begun), line(other, "done", begun + 2 * other.duration_s)];
  let last = 0;
  for (let clock = 0; clock < begun + 2 * other.duration_s + 1; clock += 0.05) {
    const { time } = reached(process, lines, clock);
    assert.ok(time >= last - 1e-12, `${time} after ${last}`);
    last = time;
  }
  assert.equal(last, Math.max(one.start_s + one.duration_s, other.start_s + other.duration_s));
  assert.ok(Math.abs(reached(process, lines, one.duration_s / 2).time - (one.start_s + one.duration_s / 2)) < 1e-9);
  assert.equal(reached(process, lines, 0.5 * one.duration_s).count, one.duration_s > 0.2 ? 2 : 1);
});

test("forces lie in the time of their element, as a share of what is allowed", () => {
  const sheet = golden();
  const own = sheet.chart?.elements.find((e) => e.kind === "assemble") ?? first(sheet, 1)[0]!;
  sheet.windows = [{ element: own.id, event: "insertion", value: "peak_force", low: 0, high: 20, unit: "N", usual: [1, 4] }];
  const process = new Process(sheet);
  const lines = [line(own, "start", 100), line(own, "wrench", 100.1, [["along", 5]]), line(own, "wrench", 100.2, [["along", 25]]), line(own, "insertion", 101, [["ok", 0]])];
  const [run] = felt(process, lines);
  assert.deepEqual(run?.map((p) => [Number((p.time - own.start_s).toFixed(6)), p.share, p.good]), [[0.1, 0.25, true], [0.2, 1.25, false]]);
  const [band] = expected(process);
  assert.deepEqual(band?.usual, [0.05, 0.2]);
  assert.ok(band.from >= own.start_s && band.to === own.start_s + own.duration_s);
  assert.deepEqual(felt(process, [line(own, "wrench", 3, [["along", 1]])]), [], "without its start it has no place");
});

test("lateness is kept by hand, and a build goes on at what was begun and not done", () => {
  const sheet = golden();
  const process = new Process(sheet);
  const [one, other] = ["left", "right"].map((hand) => sheet.chart?.elements.find((e) => e.hand === hand)) as [Element, Element];
  const end = (e: Element): number => e.start_s + e.duration_s;
  const lines = [line(one, "start", 0), line(one, "done", end(one) + 0.3), line(other, "start", 1)];
  assert.deepEqual([...late(process, lines)].map(([hand, p]) => [hand, p.length, Number(p[0]?.by.toFixed(6))]), [["left", 1, 0.3]]);
  assert.equal(stoppedAt(process, lines), other.number);
  assert.equal(stoppedAt(process, lines.slice(0, 2)), one.number + 1);
  assert.equal(stoppedAt(process, []), 1);
});

test("a load lasts as many builds as the part that runs out first", () => {
  const project = { product: { parts: [{ name: "pin" }, { name: "cover" }] } } as Project;
  const tray = (...holds: (string | null)[]): Holder => ({ places: holds.map((x) => ({ holds: x, stock: 1 })) }) as Holder;
  assert.deepEqual(
    [tray("pin", "cover"), tray("pin", "pin", "cover", "cover"), tray("pin", "pin", "cover", null), tray("driver"), tray("pin", "driver", "pin")].map((t) => lasts(project, t)),
    [1, 2, 1, null, 2],
  );
  assert.equal(lasts(project, { places: [{ holds: "pin", stock: 5 }, { holds: "cover", stock: 3 }] } as Holder), 3);
});
