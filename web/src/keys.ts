// The page by keyboard alone. `?` tells the keys.
import { h } from "./dom.ts";
import type { Process } from "./process/process.ts";
import { go, step, toMate } from "./steps.ts";
import type { Store } from "./store.ts";
import { toggleplay } from "./cell/timebar.ts";

const KEYS: [string, string][] = [
  ["↑ ↓", "the element before, the next element"], ["← →", "0.1 s back, on; with Alt 1 s"], ["Space", "play, pause"],
  ["Home End", "start, end of the chart"], ["m  Shift + m", "the next mate, the mate before"],
  ["Shift + arrows, + −", "turn the picture, zoom, when it has the focus"], ["o", "operator view and back"], ["w", "why: findings and reasons"], ["?", "these keys"],
];

export function keys(store: Store, process: () => Process, doing: { operator: () => void; why: () => void }): HTMLDialogElement {
  const close = h("button", { type: "button" }, "Close");
  const dialog = h("dialog", { class: "keys", "aria-label": "Keys" }, h("h2", {}, "Keys"), h("dl", {}, ...KEYS.flatMap(([k, what]) => [h("dt", {}, k), h("dd", {}, what)])), close);
  close.addEventListener("click", () => dialog.close());
  document.addEventListener("keydown", (event) => {
    const target = event.target as HTMLElement;
    const typing = target.closest("input:not([type=range]), select, textarea, dialog") !== null;
    if (typing || event.ctrlKey || event.metaKey || (event.shiftKey && event.key.startsWith("Arrow"))) return;
    const done = pressed(event, target);
    if (done) event.preventDefault();
  });
  const pressed = (event: KeyboardEvent, target: HTMLElement): boolean => {
    const onRange = target.matches("input[type=range]");
    const small = event.altKey ? 1 : 0.1;
    const acts: Record<string, (() => void) | undefined> = {
      ArrowDown: () => step(store, process(), 1), ArrowUp: () => step(store, process(), -1),
      ArrowRight: onRange ? undefined : () => go(store, process(), store.now.time + small),
      ArrowLeft: onRange ? undefined : () => go(store, process(), store.now.time - small),
      Home: () => go(store, process(), 0), End: () => go(store, process(), process().makespan),
      " ": target.closest("button, summary, a") ? undefined : () => toggleplay(store, process()),
      m: () => mate(1), M: () => mate(-1), o: doing.operator, w: doing.why, "?": () => dialog.showModal(),
    };
    const act = acts[event.key];
    act?.();
    return act !== undefined;
  };
  const mate = (by: 1 | -1): void => {
    const mates = process().chart?.mates ?? [];
    const at = mates.indexOf(store.now.mate ?? "");
    const next = mates[Math.min(mates.length - 1, Math.max(0, at < 0 ? 0 : at + by))];
    if (next) toMate(store, process(), next);
  };
  return dialog;
}
