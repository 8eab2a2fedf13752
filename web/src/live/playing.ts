// Builds of a trial, played one after another: a finished build's log, faster than it went, then the newest one.
import type { LogLine } from "../generated/sheet.ts";
import type { Process } from "../process/process.ts";
import { chartTime } from "./readings.ts";

/** A build is played in about so long, however long it is [s]. */
const TAKES = 8;

export interface Build {
  number: number;
  lines: LogLine[];
  reason: string;
}

/** Where in the chart a build is after some seconds of its own clock, and which of its lines have been by then. The
 * executor carries elements out one after another, so the chart's time may stand still, but never goes back. */
export function reached(process: Process, lines: readonly LogLine[], clock: number): { time: number; count: number } {
  let [from, time] = [0, 0];
  for (let i = 0; i < lines.length; i += 1) {
    const line = lines[i]!;
    const at = Math.max(time, chartTime(process, line) ?? time);
    if (line.time_s > clock) {
      const share = (clock - from) / Math.max(1e-9, line.time_s - from);
      return { time: line.event === "start" || line.event === "done" ? time + share * (at - time) : time, count: i };
    }
    if (line.event !== "start" && line.event !== "done") continue; // in the middle of its element
    [from, time] = [line.time_s, at];
  }
  return { time, count: lines.length };
}

export class Player {
  /** What is played; the next one waits. */
  now: Build | null = null;
  speed = 1;
  private next: Build | null = null;
  private clock = 0;
  private process: Process;
  private readonly step: (build: Build, reached: { time: number; count: number }) => void;
  private readonly over: () => void;

  constructor(process: Process, step: (build: Build, at: { time: number; count: number }) => void, over: () => void) {
    this.process = process;
    this.step = step;
    this.over = over;
  }

  replace(process: Process): void {
    this.process = process;
  }

  play(build: Build): void {
    this.next = build;
    if (!this.now) this.begin();
  }

  stop(): void {
    this.now = this.next = null;
  }

  private begin(): void {
    this.now = this.next;
    this.next = null;
    if (!this.now) {
      this.over();
      return;
    }
    const end = this.now.lines[this.now.lines.length - 1]?.time_s ?? 0;
    this.speed = Math.max(1, Math.round(end / TAKES));
    this.clock = 0;
    let last = performance.now();
    const tick = (time: number): void => {
      if (!this.now) return;
      this.clock += (Math.min(250, Math.max(0, time - last)) / 1000) * this.speed;
      last = time;
      this.step(this.now, reached(this.process, this.now.lines, this.clock));
      if (this.clock > end + 0.5 * this.speed) this.begin();
      else requestAnimationFrame(tick);
    };
    requestAnimationFrame(tick);
  }
}
