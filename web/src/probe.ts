// What the tests ask the page: the time it shows, and where it has put hands and items.
import type { Process } from "./process/process.ts";
import { go } from "./steps.ts";
import type { Store } from "./store.ts";

export interface Probe {
  time: () => number;
  go: (time: number) => void;
  /** Rows of T_world by name: "hand left", "item pin". */
  poses: (time: number) => Record<string, number[]>;
  /** What drawing the picture takes: calls and triangles. */
  cost: () => { calls: number; triangles: number };
}

declare global {
  interface Window {
    handfastProbe?: Probe;
  }
}

export function probe(store: Store, process: () => Process, cost: () => { calls: number; triangles: number }): void {
  window.handfastProbe = {
    time: () => store.now.time,
    go: (time) => go(store, process(), time),
    cost,
    poses: (time) => {
      const moment = process().at(time);
      const named = [
        ...[...moment.hands].map(([name, T]) => [`hand ${name}`, T] as const),
        ...[...moment.items].map(([name, T]) => [`item ${name}`, T] as const),
      ];
      return Object.fromEntries(named.map(([name, T]) => [name, T.clone().transpose().toArray()]));
    },
  };
}
