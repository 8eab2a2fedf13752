// Loading: what lies where before a build, in pictures, and how many builds a load is good for.
import type { Geometries } from "../cell/bodies.ts";
import { holderPicture } from "../cell/snapshot.ts";
import { h } from "../dom.ts";
import type { Holder, Project } from "../generated/sheet.ts";
import { lasts } from "./lasts.ts";
import type { Process } from "../process/process.ts";

export class Loading {
  readonly root = h("div", { class: "loading", tabindex: 0, role: "region", "aria-label": "Load" });
  private readonly changed: () => void;
  private ticks = new Map<string, HTMLInputElement>();
  private limits = new Map<string, number>();
  /** Builds that were begun since a holder was loaded. */
  private readonly used = new Map<string, number>();

  constructor(changed: () => void) {
    this.changed = changed;
  }

  /** Whether a person has said that every holder with parts is loaded. */
  get loaded(): boolean {
    return [...this.ticks.values()].every((t) => t.checked);
  }

  /** A build has begun and takes its parts: a holder that has none left has to be loaded again before the next. */
  taken(): void {
    for (const [name, tick] of this.ticks) {
      const used = (this.used.get(name) ?? 0) + 1;
      const over = used >= (this.limits.get(name) ?? 1);
      this.used.set(name, over ? 0 : used);
      if (over) tick.checked = false;
    }
    this.changed();
  }

  replace(process: Process, geometries: Geometries): void {
    const project = process.sheet.project;
    const before = new Set([...this.ticks].filter(([, tick]) => tick.checked).map(([name]) => name));
    this.ticks = new Map();
    const holders = (project?.cell.holders ?? []).filter((o) => o.places.some((p) => p.holds));
    this.root.replaceChildren(h("h2", {}, "Load"), ...(project ? holders.map((o) => this.holder(project, o, process, geometries, before.has(o.name))) : []));
    this.changed();
  }

  private holder(project: Project, holder: Holder, process: Process, geometries: Geometries, was: boolean): HTMLElement {
    const rows = holder.places.filter((p) => p.holds).map((p) => {
      const part = project.product.parts.some((x) => x.name === p.holds);
      const off = [p.slack ? `± ${Number((p.slack * 1e3).toFixed(2))} mm` : "", p.slack_angle ? `± ${Number(((p.slack_angle * 180) / Math.PI).toFixed(1))} deg` : ""].filter(Boolean);
      return h("tr", {}, h("th", { scope: "row" }, p.holds ?? ""), h("td", {}, p.name), h("td", {}, part ? (p.stock > 1 ? `${p.stock}, 1 a build` : "1 a build") : "stays"), h("td", {}, off.join(", ") || "as placed"));
    });
    const head = h("tr", {}, ...["load", "in place", "how many", "may lie off by"].map((t) => h("th", { scope: "col" }, t)));
    const builds = lasts(project, holder);
    const title = `${holder.kind}${holder.name === holder.kind ? "" : ` ${holder.name}`}`;
    return h(
      "article", {}, h("h3", {}, title), holderPicture(process, geometries, holder.name),
      h("table", {}, h("thead", {}, head), h("tbody", {}, ...rows)),
      builds === null ? h("p", { class: "small" }, "Tools stay: nothing to refill.") : this.tick(holder.name, title, builds, was),
    );
  }

  private tick(name: string, title: string, builds: number, was: boolean): HTMLElement {
    const tick = h("input", { type: "checkbox", checked: was });
    tick.addEventListener("change", this.changed);
    this.ticks.set(name, tick);
    this.limits.set(name, builds);
    const limit = builds === 1 ? "One load is one build: refill after each." : `One load is ${builds} builds at most, fewer by each part that is rejected: refill then.`;
    return h("p", { class: "limit" }, h("label", {}, tick, ` ${title} is loaded as shown.`), ` ${limit}`);
  }
}
