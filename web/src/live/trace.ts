// A run over the time of the chart: what hands feel against what is expected, and how late each hand is.
import { s } from "../dom.ts";
import type { Element as ChartElement, LogLine, Window } from "../generated/sheet.ts";
import type { Process } from "../process/process.ts";
import { seconds } from "../words.ts";

const WIDE = 560;
const LEFT = 56;
const RIGHT = 122;
const FELT = { top: 14, height: 52, most: 1.25 };
const LATE = { top: 92, height: 40 };
export const HIGH = LATE.top + LATE.height + 18;

/** What is drawn of a moment: time in the chart [s]; share: of what is allowed; what: in words. */
export interface Point {
  time: number;
  share: number;
  good: boolean;
}

/** Lines of force of each insertion, in the chart's time; the cell's clock counts from the start of the element. */
export function felt(process: Process, lines: readonly LogLine[]): Point[][] {
  const found: Point[][] = [];
  let own: Point[] = [];
  let [of, begun] = ["", 0];
  for (const line of lines) {
    const element = process.elements.find((e) => e.id === line.element);
    if (line.event === "start") [of, begun] = [line.element, line.time_s];
    const window = process.sheet.windows.find((w) => w.element === line.element && w.event === "insertion");
    if (line.event !== "wrench" || !element || !window || of !== line.element) {
      if (own.length) found.push(own);
      own = [];
      continue;
    }
    const share = (line.values.find(([name]) => name === "along")?.[1] ?? 0) / window.high;
    own.push({ time: inside(element, line.time_s - begun), share, good: share <= 1 });
  }
  if (own.length) found.push(own);
  return found;
}

/** Readings at one moment: a touch at the force that ends it, a screw at its torque. */
export function readAt(process: Process, lines: readonly LogLine[]): Point[] {
  let begun = 0;
  return lines.flatMap((line): Point[] => {
    const element = process.elements.find((e) => e.id === line.element);
    if (line.event === "start") begun = line.time_s;
    const value = (name: string): number => line.values.find(([n]) => n === name)?.[1] ?? 0;
    if (line.event === "contact" && element?.touch) {
      const window = process.sheet.windows.find((w) => w.element === line.element && w.event === "contact");
      const at = value("travel");
      return [{ time: touching(element, at), share: value("met") ? 1 : 0, good: Boolean(value("met")) && window !== undefined && at >= window.low && at <= window.high }];
    }
    if (line.event === "screw" && element?.torque) return [{ time: inside(element, line.time_s - begun), share: value("torque") / element.torque, good: Boolean(value("ok")) }];
    return [];
  });
}

/** Where something is felt, and how much of it is allowed: from, to in the chart's time, up to one; usual: share. */
export function expected(process: Process): { element: ChartElement; from: number; to: number; usual: [number, number] | null }[] {
  return process.sheet.windows.flatMap((w: Window) => {
    const element = process.elements.find((e) => e.id === w.element);
    if (!element) return [];
    const end = element.start_s + element.duration_s;
    if (w.event === "insertion") {
      const last = element.motions[element.motions.length - 1];
      const takes = last?.t[last.t.length - 1] ?? element.duration_s;
      return [{ element, from: Math.max(element.start_s, end - takes), to: end, usual: w.usual ? [w.usual[0] / w.high, w.usual[1] / w.high] as [number, number] : null }];
    }
    if (w.event === "contact" && element.touch) return [{ element, from: touching(element, w.low), to: touching(element, w.high), usual: null }];
    if (w.event === "screw" && element.torque) return [{ element, from: element.start_s, to: end, usual: null }];
    return [];
  });
}

/** How late each hand is [s], element by element: (time in the chart at which one ended, later by). */
export function late(process: Process, lines: readonly LogLine[]): Map<string, { time: number; by: number }[]> {
  const found = new Map<string, { time: number; by: number }[]>();
  for (const line of lines) {
    const element = line.event === "done" ? process.elements.find((e) => e.id === line.element) : undefined;
    if (!element || element.kind === "delay" || element.kind === "hold") continue; // waiting takes what it takes
    const end = element.start_s + element.duration_s;
    found.set(element.hand, [...(found.get(element.hand) ?? []), { time: end, by: line.time_s - end }]);
  }
  return found;
}

/** The figure. now: in the chart [s]. */
export function trace(process: Process, lines: readonly LogLine[], now: number): SVGElement {
  const span = Math.max(1e-6, process.makespan);
  const x = (t: number): number => across(span, t);
  const hands = process.chart?.hands ?? [];
  const words = `Force and torque against what is allowed, and how late each hand is, over ${seconds(process.makespan)} s of the chart. The table of readings tells the same in numbers.`;
  return s(
    "svg", { class: "trace", viewBox: `0 0 ${WIDE} ${HIGH}`, role: "img", "aria-label": words },
    ...feltRow(process, lines, x), ...lateRow(process, lines, hands, x),
    s("line", { class: "now", x1: x(now), x2: x(now), y1: 4, y2: LATE.top + LATE.height }),
    ...ticks(span, x),
  );
}

function across(span: number, t: number): number {
  return LEFT + ((WIDE - LEFT - RIGHT) * Math.min(span, Math.max(0, t))) / span;
}

/** Where one looks has moved on. */
export function moveNow(figure: Element, process: Process, now: number): void {
  const x = String(across(Math.max(1e-6, process.makespan), now));
  for (const line of figure.querySelectorAll(".trace .now")) {
    line.setAttribute("x1", x);
    line.setAttribute("x2", x);
  }
}

function feltRow(process: Process, lines: readonly LogLine[], x: (t: number) => number): SVGElement[] {
  // By the root, so that what is usual can be seen far below what is allowed.
  const y = (share: number): number => FELT.top + FELT.height * (1 - Math.sqrt(Math.min(FELT.most, Math.max(0, share)) / FELT.most));
  const bands = expected(process).flatMap((e) => [
    s("rect", { class: "allowed", x: x(e.from), width: Math.max(2, x(e.to) - x(e.from)), y: y(1), height: y(0) - y(1) }),
    ...(e.usual ? [s("rect", { class: "usual", x: x(e.from), width: Math.max(2, x(e.to) - x(e.from)), y: y(e.usual[1]), height: Math.max(1.5, y(e.usual[0]) - y(e.usual[1])) })] : []),
  ]);
  const drawn = felt(process, lines).map((run) => s("path", { class: run.every((p) => p.good) ? "felt" : "felt bad", d: `M${run.map((p) => `${x(p.time).toFixed(1)} ${y(p.share).toFixed(1)}`).join("L")}` }));
  const points = readAt(process, lines).map((p) => s("path", { class: p.good ? "point" : "point bad", d: p.good ? `M${x(p.time)} ${y(p.share) - 4}l4 4l-4 4l-4-4z` : `M${x(p.time) - 4} ${y(p.share) - 4}l8 8m0-8l-8 8` }));
  return [
    s("line", { class: "grid", x1: LEFT, x2: WIDE - RIGHT, y1: y(0), y2: y(0) }), ...bands, ...drawn, ...points,
    s("text", { x: LEFT - 5, y: y(1) + 3, class: "end" }, "allowed"), s("text", { x: LEFT - 5, y: y(0) + 3, class: "end" }, "0"),
    s("line", { class: "grid", x1: LEFT, x2: WIDE - RIGHT, y1: y(0.1), y2: y(0.1) }), s("text", { x: LEFT - 5, y: y(0.1) + 3, class: "end" }, "10 %"),
    s("text", { x: WIDE - RIGHT + 6, y: y(1) + 3 }, "force, torque"), s("text", { x: WIDE - RIGHT + 6, y: y(1) + 18 }, "root scale"),
  ];
}

function lateRow(process: Process, lines: readonly LogLine[], hands: string[], x: (t: number) => number): SVGElement[] {
  const found = late(process, lines);
  const most = Math.max(0.5, ...[...found.values()].flat().map((p) => Math.abs(p.by)));
  const least = Math.min(0, ...[...found.values()].flat().map((p) => p.by));
  const y = (by: number): number => LATE.top + LATE.height * (1 - (by - least) / (most - least));
  const drawn = hands.flatMap((hand, i) => {
    const steps = found.get(hand) ?? [];
    const last = steps[steps.length - 1];
    if (!last) return [];
    const d = steps.reduce((text, p) => `${text}H${x(p.time).toFixed(1)}V${y(p.by).toFixed(1)}`, `M${x(0)} ${y(0)}`);
    return [s("path", { class: `late hand${i}`, d })];
  });
  const now = hands.flatMap((hand) => (found.get(hand)?.length ? [found.get(hand)![found.get(hand)!.length - 1]!.by] : []));
  const apart = now.length > 1 ? Math.max(...now) - Math.min(...now) : null;
  return [
    s("line", { class: "grid", x1: LEFT, x2: WIDE - RIGHT, y1: y(0), y2: y(0) }), ...drawn,
    s("text", { x: LEFT - 5, y: y(0) + 3, class: "end" }, "0 s"), s("text", { x: LEFT - 5, y: y(most) + 3, class: "end" }, `+${most.toFixed(1)} s`),
    ...hands.map((hand, i) => s("text", { class: `of${i}`, x: WIDE - RIGHT + 6, y: LATE.top + 8 + 14 * i }, `${i ? "┄" : "─"} ${hand}${now[i] === undefined ? "" : ` ${signed(now[i]!)}`}`)),
    s("text", { x: WIDE - RIGHT + 6, y: LATE.top + 8 + 14 * hands.length }, apart === null ? "later than charted" : `apart ${seconds(apart)} s`),
  ];
}

function ticks(span: number, x: (t: number) => number): SVGElement[] {
  const step = span > 60 ? 20 : span > 20 ? 5 : 1;
  const found: SVGElement[] = [];
  for (let t = 0; t <= span; t += step) found.push(s("text", { x: x(t), y: HIGH - 4, class: "middle" }, `${t}${t === 0 ? " s" : ""}`));
  return found;
}

function signed(by: number): string {
  return `${by < 0 ? "−" : "+"}${seconds(Math.abs(by))} s`;
}

/** A time of an element's own [s], in the chart's, never outside of the element. */
function inside(element: ChartElement, after: number): number {
  return element.start_s + Math.min(element.duration_s, Math.max(0, after));
}

/** When in the chart a guarded move has gone so far [s]. */
function touching(element: ChartElement, travel: number): number {
  const until = element.motions.slice(0, element.guarded ?? 0).reduce((sum, m) => sum + (m.t[m.t.length - 1] ?? 0), 0);
  return inside(element, element.before_s + until + travel / (element.touch?.speed ?? 1));
}
