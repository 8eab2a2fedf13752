// Time: play, step, scrub. Two lanes show what each hand does when, with mates and touches marked.
import { h, s } from "../dom.ts";
import { SYMBOL_OF } from "../chart/symbols.ts";
import type { Process } from "../process/process.ts";
import type { Store } from "../store.ts";
import { phrase, seconds } from "../words.ts";
import { go, step } from "../steps.ts";

const SPEEDS = [0.25, 0.5, 1, 2, 4, 10];

export class TimeBar {
  readonly root = h("section", { class: "timebar", "aria-label": "Time" });
  private process: Process;
  private readonly store: Store;
  private readonly range = h("input", { type: "range", min: "0", step: "0.01", "aria-label": "Time in the chart, seconds" });
  private readonly lanes = h("div", { class: "lanes", "aria-hidden": "true" });
  private readonly play = h("button", { type: "button", class: "play" });
  private readonly clock = h("output", { class: "clock" });
  private readonly says = h("p", { class: "says" });

  constructor(process: Process, store: Store) {
    this.process = process;
    this.store = store;
    const speed = h("select", { "aria-label": "Speed" }, ...SPEEDS.map((v) => h("option", { value: v, selected: v === 1 }, `${v} ×`)));
    speed.addEventListener("change", () => store.set({ speed: Number(speed.value) }));
    this.play.addEventListener("click", () => toggleplay(store, this.process));
    this.range.addEventListener("input", () => go(store, this.process, Number(this.range.value)));
    const back = h("button", { type: "button", title: "The element before (arrow up)", "aria-label": "The element before" }, "◂");
    const next = h("button", { type: "button", title: "The next element (arrow down)", "aria-label": "The next element" }, "▸");
    back.addEventListener("click", () => step(store, this.process, -1));
    next.addEventListener("click", () => step(store, this.process, 1));
    this.root.append(
      h("div", { class: "buttons" }, this.play, back, next, speed, this.clock),
      h("div", { class: "track" }, this.lanes, this.range), this.says,
    );
    this.replace(process);
    store.subscribe(() => this.update());
  }

  replace(process: Process): void {
    this.process = process;
    this.range.max = String(process.makespan);
    this.range.disabled = process.makespan === 0;
    this.lanes.replaceChildren(...(process.chart ? [this.drawn()] : []));
    this.update();
  }

  private drawn(): SVGSVGElement {
    const length = Math.max(1e-6, this.process.makespan);
    const hands = this.process.chart?.hands ?? [];
    const bars = this.process.elements.map((e) =>
      s("rect", {
        class: `${SYMBOL_OF[e.kind]} hand${hands.indexOf(e.hand)}`, x: (1000 * e.start_s) / length, y: 2 + 11 * hands.indexOf(e.hand),
        width: Math.max(0.6, (1000 * e.duration_s) / length - 0.5), height: 8,
      }),
    );
    return s("svg", { viewBox: `0 0 1000 ${11 * hands.length + 2}`, preserveAspectRatio: "none" }, ...bars);
  }

  private update(): void {
    const { time, playing } = this.store.now;
    this.range.value = String(time);
    this.range.setAttribute("aria-valuetext", `${seconds(time)} of ${seconds(this.process.makespan)} seconds`);
    this.play.textContent = playing ? "❚❚ Pause" : "▶ Play";
    this.clock.textContent = `${seconds(time)} of ${seconds(this.process.makespan)} s`;
    const going = this.process.elementsAt(time);
    this.says.textContent = going.map((e) => `${e.hand}: ${e.number} ${phrase(e)}`).join("   ");
  }
}

export function toggleplay(store: Store, process: Process): void {
  const { playing, time } = store.now;
  if (!playing && time >= process.makespan - 1e-6) store.set({ time: 0 });
  store.set({ playing: !playing });
}
