// A run or a trial that is going on, here or in a terminal: how far it is, what it measures, how the hands keep time.
import { h, toggle } from "../dom.ts";
import type { LogLine } from "../generated/sheet.ts";
import type { Process } from "../process/process.ts";
import type { Store } from "../store.ts";
import { seconds } from "../words.ts";
import type { News } from "./connection.ts";
import { type Build, Player } from "./playing.ts";
import { amount, behind, chartTime, lastRun, type Reading, readings } from "./readings.ts";
import { moveNow, trace } from "./trace.ts";

type Run = Extract<News, { kind: "run" }>;
type Trial = Extract<News, { kind: "trial" }>;

export class RunView {
  /** Under the picture while something goes on. */
  readonly strip = h("section", { class: "runstrip", "aria-label": "Run", hidden: true });
  /** Everything measured, for the operator. */
  readonly table = h("div", { class: "readings" });
  private process: Process;
  private readonly store: Store;
  private readonly player: Player;
  private readonly head = h("div", { class: "head" });
  private readonly last = h("p", {});
  private readonly figure = h("div", { class: "figure" });
  private readonly follow = toggle("Follow", "Show the time at which the build is; off while you look elsewhere", true, (on) => {
    this.following = on;
  });
  private following = true;
  private own = false;
  private lines: LogLine[] = [];
  private state = "";
  private trial: Trial | null = null;

  constructor(process: Process, store: Store) {
    this.process = process;
    this.store = store;
    let count = -1;
    this.player = new Player(
      process,
      (build, at) => {
        this.go(at.time);
        if (count === at.count && at.count > 0) return;
        count = at.count;
        this.lines = build.lines.slice(0, at.count);
        this.show();
      },
      () => this.show(),
    );
    this.strip.append(h("div", { class: "line" }, this.head, this.follow), this.last, this.figure);
    store.subscribe((now, before) => {
      if (now.time !== before.time) for (const place of [this.figure, this.table]) moveNow(place, this.process, now.time);
      if (!this.own && now.time !== before.time && (this.going || this.player.now)) this.look(false);
    });
    this.replace(process);
  }

  replace(process: Process): void {
    this.process = process;
    this.player.replace(process);
    if (!this.lines.length) this.lines = lastRun(process.sheet);
    this.show();
  }

  heard(news: Run): void {
    const line = news.line ?? null;
    if (news.state === "going" && this.state !== "going") {
      this.lines = [];
      this.player.stop();
      this.look(true);
    }
    this.state = news.state;
    if (line) {
      this.lines.push(line);
      const time = line.event === "wrench" ? null : chartTime(this.process, line);
      if (time !== null) this.go(time, line);
    } else if (this.going) this.go(news.time);
    if (line?.event !== "wrench") this.show();
  }

  tried(news: Trial): void {
    if (!this.trial && news.of) this.look(true);
    this.trial = news.of ? news : null;
    this.show();
  }

  /** A build of a trial: played unless a run is going on. */
  built(news: Build): void {
    if (!this.going) this.player.play(news);
  }

  private get going(): boolean {
    return this.state === "going";
  }

  private look(on: boolean): void {
    this.following = on;
    this.follow.setAttribute("aria-pressed", String(on));
  }

  private go(time: number, line?: LogLine): void {
    if (!this.following) return;
    const going = this.process.elementsAt(time).find((e) => e.kind !== "delay" && e.kind !== "hold");
    const element = line ? this.process.elements.find((e) => e.id === line.element) : going;
    this.own = true;
    this.store.set({ time, playing: false, element: element?.number ?? this.store.now.element });
    this.own = false;
  }

  private show(): void {
    const found = readings(this.process, this.lines);
    const build = this.player.now;
    this.strip.hidden = !this.going && !this.trial && !build;
    const done = this.lines.filter((l) => l.event === "done").length;
    const of = this.process.elements.length;
    const parts: (Node | null)[] = [
      this.going ? this.progress() : null,
      this.trial ? h("p", {}, h("b", {}, `Trial: build ${this.trial.done} of ${this.trial.of} `), bar(this.trial.done, this.trial.of)) : null,
      build && !this.going ? h("p", {}, h("b", {}, `▶ Playing build ${build.number + 1}`), `, ${this.player.speed} × as fast: ${this.outcome(build, done, of)}`) : null,
    ];
    this.head.replaceChildren(...parts.filter((p): p is Node => p !== null));
    this.last.replaceChildren(...(found.length && !this.strip.hidden ? ["Measured last: ", ...line(found[found.length - 1]!)] : []));
    this.figure.replaceChildren(...(this.strip.hidden ? [] : [trace(this.process, this.lines, this.store.now.time)]));
    this.table.replaceChildren(...this.all(found));
  }

  private progress(): HTMLElement {
    const done = this.lines.filter((l) => l.event === "done").length;
    const of = this.process.elements.length;
    return h("p", {}, h("b", {}, `▶ Run: ${done} of ${of} elements `), bar(done, of));
  }

  private outcome(build: Build, done: number, of: number): string {
    if (this.lines.length < build.lines.length) return `${done} of ${of} elements`;
    return build.reason ? `✕ ${build.reason}` : "✓ it came to its end";
  }

  private all(found: Reading[]): Node[] {
    const progress = this.going ? [this.progress()] : [];
    if (!found.length) return [...progress, h("p", { class: "small" }, "Nothing measured yet.")];
    const rows = found.map((r) => h(
      "tr", { class: r.good ? null : "bad" }, h("th", { scope: "row" }, `${r.number} ${r.what}`), h("td", {}, `${r.good ? "✓" : "✕"} ${amount(r.value, r.window.unit)}`),
      h("td", {}, gauge(r), h("small", {}, ` ${band(r)}`)),
    ));
    const head = h("tr", {}, ...["element", "measured", "expected"].map((t) => h("th", { scope: "col" }, t)));
    return [
      ...progress, h("h3", {}, "Measured, beside what is expected"), trace(this.process, this.lines, this.store.now.time),
      h("p", { class: "small" }, this.time()), h("table", {}, h("thead", {}, head), h("tbody", {}, ...rows)),
    ];
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
  const { low, high, unit, usual } = r.window;
  const least = (v: number): string => amount(v, unit).split(" ")[0] ?? ""; // the unit once, behind the other
  const limits = low > 0 ? `${least(low)} to ${amount(high, unit)}` : `at most ${amount(high, unit)}`;
  return usual ? `${limits}, mostly ${least(usual[0])} to ${amount(usual[1], unit)}` : limits;
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
