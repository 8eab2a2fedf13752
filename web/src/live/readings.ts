// What a run has measured, beside what it should lie within, and how far the hands are from the chart's times.
import type { LogLine, Sheet, Window } from "../generated/sheet.ts";
import type { Process } from "../process/process.ts";

export interface Reading {
  number: number;
  what: string;
  value: number;
  window: Window;
  good: boolean;
}

const WHAT: Record<string, string> = { width: "jaws", contact: "contact", insertion: "force", screw: "turn" };

/** In the order of the log; only what there is a band for. */
export function readings(process: Process, lines: LogLine[]): Reading[] {
  return lines.flatMap((line) => {
    const window = process.sheet.windows.find((w) => w.element === line.element && w.event === line.event);
    const value = window && line.values.find(([name]) => name === window.value)?.[1];
    const element = process.elements.find((e) => e.id === line.element);
    if (!window || value === undefined || !element) return [];
    const ok = line.values.every(([name, v]) => (name !== "ok" && name !== "met") || v !== 0);
    return [{ number: element.number, what: WHAT[line.event] ?? line.event, value, window, good: ok && value >= window.low && value <= window.high }];
  });
}

export function amount(value: number, unit: string): string {
  if (unit === "m") return `${(value * 1e3).toFixed(2)} mm`;
  if (unit === "rad") return `${(value / (2 * Math.PI)).toFixed(2)} turns`;
  return `${value.toFixed(1)} ${unit}`;
}

/** By hand: how much later than in the chart its last element has ended, by the cell's clock [s]; waiting left out. */
export function behind(process: Process, lines: LogLine[]): Map<string, number> {
  const found = new Map<string, number>();
  for (const line of lines) {
    const element = line.event === "done" ? process.elements.find((e) => e.id === line.element) : undefined;
    if (element && element.kind !== "delay" && element.kind !== "hold") found.set(element.hand, line.time_s - (element.start_s + element.duration_s));
  }
  return found;
}

/** Where in the chart a line stands [s]. */
export function chartTime(process: Process, line: LogLine): number | null {
  const element = process.elements.find((e) => e.id === line.element);
  if (!element) return null;
  return line.event === "start" ? element.start_s : element.start_s + element.duration_s;
}

/** The lines of the last run that was saved, if it was of this chart. */
export function lastRun(sheet: Sheet): LogLine[] {
  return sheet.run_log?.lines ?? [];
}

/** The number of the last element that was begun and not done, or of the one behind the last that was done. */
export function stoppedAt(process: Process, lines: readonly LogLine[]): number {
  const numbers = (event: string): number[] => lines.filter((l) => l.event === event).flatMap((l) => process.elements.find((e) => e.id === l.element)?.number ?? []);
  const [begun, done] = [numbers("start"), numbers("done")];
  const last = begun[begun.length - 1];
  if (last !== undefined && !done.includes(last)) return last;
  return Math.min((done[done.length - 1] ?? 0) + 1, process.elements.length);
}
