// Names over the picture, at points of the cell.
import type { OrthographicCamera, Vector3 } from "three";
import { h } from "../dom.ts";

export interface Named {
  text: string;
  at: Vector3;
  kind: "spot" | "hand" | "frame";
}

export class Labels {
  readonly root = h("div", { class: "labels", "aria-hidden": "true" });
  private readonly shown: { node: HTMLElement; label: Named }[] = [];

  set(labels: Named[]): void {
    while (this.shown.length > labels.length) this.shown.pop()?.node.remove();
    labels.forEach((label, i) => {
      let own = this.shown[i];
      if (!own) {
        own = { node: h("span"), label };
        this.shown.push(own);
        this.root.append(own.node);
      }
      own.label = label;
      own.node.className = `label ${label.kind}`;
      if (own.node.textContent !== label.text) own.node.textContent = label.text;
    });
  }

  /** Those that would lie on each other are put one below the other; how wide letters are is guessed, not measured. */
  place(camera: OrthographicCamera, width: number, height: number): void {
    const letter = parseFloat(getComputedStyle(this.root).fontSize) || 15;
    const set: { x: number; y: number; wide: number }[] = [];
    const places = this.shown.map(({ node, label }) => {
      const p = label.at.clone().project(camera);
      return { node, wide: label.text.length * letter * 0.52, x: ((p.x + 1) / 2) * width, y: ((1 - p.y) / 2) * height, inside: Math.abs(p.x) < 1.02 && Math.abs(p.y) < 1.02 };
    });
    for (const place of places.sort((a, b) => a.y - b.y)) {
      place.node.hidden = !place.inside;
      if (!place.inside) continue;
      while (set.some((o) => Math.abs(o.y - place.y) < 1.1 * letter && o.x < place.x + place.wide && place.x < o.x + o.wide)) place.y += letter / 4;
      set.push(place);
      place.node.style.transform = `translate(${place.x.toFixed(1)}px, ${place.y.toFixed(1)}px)`;
    }
  }
}
