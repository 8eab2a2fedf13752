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

  place(camera: OrthographicCamera, width: number, height: number): void {
    for (const { node, label } of this.shown) {
      const p = label.at.clone().project(camera);
      const inside = Math.abs(p.x) < 1.02 && Math.abs(p.y) < 1.02;
      node.hidden = !inside;
      if (inside) node.style.transform = `translate(${(((p.x + 1) / 2) * width).toFixed(1)}px, ${(((1 - p.y) / 2) * height).toFixed(1)}px)`;
    }
  }
}
