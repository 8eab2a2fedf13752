// Moving about in the chart: to a time, an element, a mate; playing.
import type { Element } from "./generated/sheet.ts";
import type { Process } from "./process/process.ts";
import type { Store } from "./store.ts";

/** To a time; the element that is at work there becomes the chosen one. */
export function go(store: Store, process: Process, time: number): void {
  const at = Math.min(process.makespan, Math.max(0, time));
  const going = process.elementsAt(at);
  const own = going.find((e) => e.number === store.now.element) ?? going.find((e) => e.kind !== "delay" && e.kind !== "hold") ?? going[0];
  store.set({ time: at, element: own?.number ?? null, mate: own?.mate || store.now.mate });
}

/** To an element: to the end of what jaws, tools and touches do, for there is what one wants to see. */
export function choose(store: Store, element: Element): void {
  store.set({ time: telling(element), element: element.number, mate: element.mate || store.now.mate, playing: false });
}

/** The time that tells most about an element [s]. */
export function telling(e: Element): number {
  if (e.kind === "locate" && e.guarded !== null) {
    const until = e.motions.slice(0, e.guarded + 1).reduce((sum, m) => sum + (m.t[m.t.length - 1] ?? 0), 0);
    return e.start_s + e.before_s + until;
  }
  return e.start_s + (["reach", "hold", "delay"].includes(e.kind) ? e.duration_s / 2 : Math.max(0, e.duration_s - 1e-4));
}

/** To the next element in order of the chart, or back. */
export function step(store: Store, process: Process, by: 1 | -1): void {
  const all = [...process.elements].sort((a, b) => a.number - b.number);
  const now = all.findIndex((e) => e.number === store.now.element);
  const next = all[now < 0 ? 0 : now + by];
  if (next) choose(store, next);
}

/** To the moment at which a mate goes in. */
export function toMate(store: Store, process: Process, mate: string): void {
  const own = process.elements.filter((e) => e.mate === mate);
  const row = process.sheet.ledger?.rows.find((r) => r.mate === mate);
  const last = own.filter((e) => e.kind === "assemble" || e.kind === "use").pop();
  const element = own.find((e) => e.id === row?.element) ?? last ?? own[0];
  if (element) choose(store, element);
  store.set({ mate });
}

/** Advance the time while playing. */
export function playing(store: Store, process: () => Process): void {
  let last = 0;
  const tick = (now: number): void => {
    const passed = last ? (now - last) / 1000 : 0;
    last = now;
    if (!store.now.playing) return;
    const end = process().makespan;
    const time = store.now.time + Math.min(0.25, passed) * store.now.speed;
    go(store, process(), time);
    if (time >= end) store.set({ playing: false });
    else requestAnimationFrame(tick);
  };
  store.subscribe((now, before) => {
    if (now.playing && !before.playing) {
      last = 0;
      requestAnimationFrame(tick);
    }
  });
}
