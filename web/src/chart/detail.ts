// What the chosen element is, in full: a card under the picture.
import { h } from "../dom.ts";
import type { Element } from "../generated/sheet.ts";
import type { Process } from "../process/process.ts";
import type { Store } from "../store.ts";
import { phrase, seconds } from "../words.ts";
import { writtenAt } from "../why/place.ts";

export class Detail {
  readonly root = h("p", { class: "detail", "aria-live": "polite" });

  constructor(process: () => Process, store: Store) {
    let shown: number | null = -1;
    store.subscribe((now) => {
      if (now.element === shown || now.playing) return;
      shown = now.element;
      const element = now.element === null ? undefined : process().element(now.element);
      this.root.replaceChildren(...(element ? told(process(), element) : ["Choose an element: click it, or press the arrow keys."]));
    });
  }
}

function told(process: Process, e: Element): (Node | string)[] {
  const facts = [`${seconds(e.start_s)} to ${seconds(e.start_s + e.duration_s)} s`, ...facts_of(e)];
  const place = e.mate ? writtenAt(process.sheet, `mate ${e.mate}`) : "";
  return [
    h("b", {}, `${e.number}  ${e.hand} hand: ${phrase(e)}`), ` · ${facts.join(" · ")}`,
    ...(e.mate ? [` · serves ${e.mate}`] : []), ...(place ? [h("span", { class: "place" }, ` ${place}`)] : []),
  ];
}

function facts_of(e: Element): string[] {
  const facts: string[] = [];
  if (e.grasp)
    facts.push(`jaws ${mm(e.grasp.width)} wide on ${e.grasp.features.join(" and ")}`, `slips over ${e.grasp.slip_force.toFixed(0)} N`);
  if (e.touch)
    facts.push(`touches ${e.touch.part}.${e.touch.feature} at ${(e.touch.speed * 1e3).toFixed(0)} mm/s`, `until ${e.touch.force.toFixed(1)} N`, `gives up ${mm(e.touch.overtravel)} beyond`);
  if (e.torque !== null) facts.push(`${e.torque.toFixed(2)} N m`);
  if (e.turns !== null) facts.push(`${(e.turns / (2 * Math.PI)).toFixed(1)} turns`);
  if (e.cause) facts.push(e.cause);
  return facts;
}

function mm(value: number): string {
  return `${(value * 1e3).toFixed(1)} mm`;
}
