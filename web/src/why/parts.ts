// The parts and what was found or written of each: its features, drawn and listed.
import type { Geometries } from "../cell/bodies.ts";
import { partPicture } from "../cell/snapshot.ts";
import { h } from "../dom.ts";
import type { Feature, Part } from "../generated/sheet.ts";
import type { Process } from "../process/process.ts";
import { writtenAt } from "./place.ts";

export class PartsDialog {
  readonly root = h("dialog", { class: "parts", "aria-label": "Parts and their features" });

  open(process: Process, geometries: Geometries): void {
    const close = h("button", { type: "button" }, "Close");
    close.addEventListener("click", () => this.root.close());
    const parts = process.sheet.project?.product.parts ?? [];
    this.root.replaceChildren(h("h2", {}, "Parts and their features"), close, ...parts.map((part) => told(part, process, geometries)));
    if (!this.root.open) this.root.showModal();
  }
}

function told(part: Part, process: Process, geometries: Geometries): HTMLElement {
  const mates = process.sheet.project?.product.mates ?? [];
  const used = (f: Feature): string =>
    mates.filter((m) => m.pairs.some((p) => (m.part === part.name && p.moving === f.name) || (p.fixed_part === part.name && p.fixed === f.name))).map((m) => m.name).join(", ");
  const rows = part.features.map((f) => h("tr", {}, h("th", { scope: "row" }, f.name), h("td", {}, f.kind), h("td", {}, sizes(f)), h("td", {}, used(f))));
  const head = h("tr", {}, ...["feature", "kind", "size", "mates"].map((t) => h("th", { scope: "col" }, t)));
  const drawn = geometries.has(`part:${part.name}`) ? partPicture(process, geometries, part) : null;
  return h(
    "article", {}, h("h3", {}, part.name, h("span", { class: "place" }, ` ${writtenAt(process.sheet, `part ${part.name}`)}`)),
    h("div", { class: "drawn" }, drawn, h("table", {}, h("thead", {}, head), h("tbody", {}, ...rows))),
  );
}

/** As drawings write them. */
export function sizes(f: Feature): string {
  const mm = (v: number): string => `${Number((v * 1e3).toFixed(3))} mm`;
  const said = [
    f.thread ?? (f.diameter !== null ? `⌀ ${mm(f.diameter)}${f.fit ? ` ${f.fit}` : ""}` : ""),
    f.size ? `${mm(f.size[0])} × ${mm(f.size[1])}` : "", f.length !== null ? `${mm(f.length)} ${f.kind === "hole" ? "deep" : "long"}` : "",
    f.chamfer ? `chamfer ${mm(f.chamfer.width)} at ${Number(((f.chamfer.angle * 180) / Math.PI).toFixed(1))} deg` : "",
    f.teeth !== null ? `${f.teeth} teeth` : "",
  ];
  return said.filter(Boolean).join(", ");
}
