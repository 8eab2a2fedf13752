// A run or a trial that is going on, here or in a terminal: how far it is, what it measures, how the hands keep time.
import { h } from "../dom.ts";
import type { LogLine } from "../generated/sheet.ts";
import type { Process } from "../process/process.ts";
import type { Store } from "../store.ts";
import { seconds } from "../words.ts";
import type { News } from "./connection.ts";
import { amount, behind, chartTime, lastRun, type Reading, readings } from "./readings.ts";

type Run = Extract<News, { kind: "run" }>;
type Trial = Extract<News, { kind: "trial" }>;

export class RunView {
  /** Under the picture while something goes on. */
  readonly strip = h("section", { class: "runstrip", "aria-label": "Run", hidden: true });
  /** Everything measured, for the operator. */
  readonly table = h("div", { class: "readings" });
  private process: Process;
  private readonly store: Store;
  private lines: LogLine[] = [];
  private state = "";
  private trial = "";

  constructor(process: Process, store: Store) {
    this.process = process;
    this.store = store;
    this.replace(process);
  }

  replace(process: Process): void {
    this.process = process;
    if (!this.lines.length) this.lines = lastRun(process.sheet);
    this.show();
  }

  heard(news: Run): void {
    const line = news.line ?? null;
    if (news.state === "going" && this.state !== "going") this.lines = [];
    if (line) {
      this.lines.push(line);
      const time = chartTime(this.process, line);
      if (time !== null) this.store.set({ time, playing: false, element: this.process.elements.find((e) => e.id === line.element)?.number ?? null });
    }
    this.state = news.state;
    this.show();
  }

  tried(news: Trial): void {
    this.trial = news.of ? `Trial: build ${news.done} of ${news.of}` : "";
    this.show(news);
  }

  private show(trial?: Trial): void {
    const found = readings(this.process, this.lines);
    const going = this.state === "going";
    this.strip.hidden = !going && !this.trial;
    const done = this.lines.filter((l) => l.event === "done").length;
    const of = this.process.elements.length;
    const parts: (Node | null)[] = [
      going ? h("p", {}, h("b", {}, `▶ Run: ${done} of ${of} elements `), bar(done, of), ` ${this.time()}`) : null,
      going && found.length ? h("p", {}, "Measured last: ", ...line(found[found.length - 1]!)) : null,
      this.trial ? h("p", {}, h("b", {}, `${this.trial} `), trial ? bar(trial.done, trial.of) : null) : null,
    ];
    this.strip.replaceChildren(...parts.filter((p): p is Node => p !== null));
    this.table.replaceChildren(...this.all(found));
  }

  private all(found: Reading[]): Node[] {
    if (!found.length) return [h("p", { class: "small" }, "Nothing measured yet.")];
    const rows = found.map((r) => h(
      "tr", { class: r.good ? null : "bad" }, h("th", { scope: "row" }, `${r.number} ${r.what}`), h("td", {}, `${r.good ? "✓" : "✕"} ${amount(r.value, r.window.unit)}`),
      h("td", {}, gauge(r), h("small", {}, ` ${band(r)}`)),
    ));
    const head = h("tr", {}, ...["element", "measured", "expected"].map((t) => h("th", { scope: "col" }, t)));
    return [h("h3", {}, "Measured, beside what is expected"), h("p", { class: "small" }, this.time()), h("table", {}, h("thead", {}, head), h("tbody", {}, ...rows))];
  }

  /** In words: how far each hand is behind the chart, and the hands from each other. */
  private time(): string {
    const late = behind(this.process, this.lines);
    if (!late.size) return "";
    const said = [...late].map(([hand, s]) => `${hand} ${s >= 0 ? "+" : "−"}${seconds(Math.abs(s))} s`);
    const apart = Math.max(...late.values()) - Math.min(...late.values());
    return `Hands against the chart: ${said.join(", ")}${late.size > 1 ? `; ${seconds(apart)} s apart` : ""}.`;
  }
}

function line(r: Reading): Node[] {
  return [h("b", { class: r.good ? null : "bad" }, `${r.number} ${r.what} ${amount(r.value, r.window.unit)} ${r.good ? "✓" : "✕"} `), gauge(r), h("span", { class: "small" }, ` ${band(r)}`)];
}

function band(r: Reading): string {
  const { low, high, unit } = r.window;
  const least = amount(low, unit).split(" ")[0] ?? ""; // the unit once, behind the other
  return low > 0 ? `${least} to ${amount(high, unit)}` : `at most ${amount(high, unit)}`;
}

/** The band as a box in the middle, the reading as a mark. */
function gauge({ value, window }: Reading): HTMLElement {
  const wide = window.high - window.low || 1;
  const from = window.low > 0 ? window.low - wide / 2 : 0;
  const to = window.high + (window.low > 0 ? wide / 2 : wide / 4);
  const at = (v: number): number => Math.min(100, Math.max(0, (100 * (v - from)) / (to - from)));
  const inside = h("i", { class: "band" });
  const mark = h("i", { class: "reading" });
  inside.style.left = `${at(window.low)}%`;
  inside.style.width = `${at(window.high) - at(window.low)}%`;
  mark.style.left = `${at(value)}%`;
  return h("span", { class: "gauge", "aria-hidden": "true" }, inside, mark);
}

function bar(done: number, of: number): HTMLElement {
  return h("progress", { max: Math.max(1, of), value: done, "aria-label": `${done} of ${of}` });
}
