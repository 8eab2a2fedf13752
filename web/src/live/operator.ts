// What the person at the cell needs: load the trays, start, stop. Only a simulated cell can be started here.
import type { Geometries } from "../cell/bodies.ts";
import { holderPicture } from "../cell/snapshot.ts";
import { h } from "../dom.ts";
import type { Holder, Sheet } from "../generated/sheet.ts";
import type { Process } from "../process/process.ts";
import type { Store } from "../store.ts";
import { seconds } from "../words.ts";
import { type News, post } from "./connection.ts";

export class OperatorView {
  readonly root = h("section", { class: "operator", "aria-label": "Operator" });
  private readonly store: Store;
  private readonly state = h("p", { class: "state", role: "status" }, "Not started.");
  private readonly log = h("ol", { class: "log", tabindex: 0, "aria-label": "What the cell has done" });
  private readonly start = h("button", { type: "button", class: "start" }, "▶ Start one build in the simulated cell");
  private readonly stop = h("button", { type: "button", class: "stop", disabled: true }, "■ Stop");
  private readonly readings: HTMLElement;
  private going = false;

  constructor(store: Store, readings: HTMLElement) {
    this.store = store;
    this.readings = readings;
    this.start.addEventListener("click", () => void this.ask("/api/run"));
    this.stop.addEventListener("click", () => void this.ask("/api/stop"));
  }

  replace(process: Process, geometries: Geometries): void {
    const { sheet } = process;
    const holders = (sheet.project?.cell.holders ?? []).filter((o) => o.places.some((p) => p.holds));
    this.root.replaceChildren(
      h("div", { class: "loading", tabindex: 0, role: "region", "aria-label": "Load" }, h("h2", {}, "Load"), ...holders.map((o) => this.holder(o, sheet, process, geometries))),
      h(
        "div", { class: "running", tabindex: 0, role: "region", "aria-label": "Run" }, h("h2", {}, "Run"), h("div", { class: "buttons" }, this.start, this.stop), this.state, this.log, this.readings,
        h("div", { class: "caution" }, h("h3", {}, "! Cautions"), h("ul", {}, ...sheet.cautions.map((c) => h("li", {}, c)))),
      ),
    );
    this.start.disabled = this.going || !sheet.chart || !sheet.ledger;
    if (!sheet.ledger) this.state.textContent = "A build needs a chart and a ledger: budget the chart first.";
  }

  heard(news: Extract<News, { kind: "run" }>): void {
    this.going = news.state === "going";
    this.start.disabled = this.going;
    this.stop.disabled = !this.going;
    this.state.className = `state ${news.state}`;
    const sign = { going: "▶", done: "✓", stopped: "■", failed: "✕" }[news.state];
    this.state.textContent = `${sign} ${seconds(news.time)} s: ${news.text}`;
    if (news.line && news.line.event !== "failure" && news.line.event !== "recovery") return; // told by the readings
    this.log.append(h("li", {}, `${seconds(news.time)} s  ${news.text}`));
    this.log.scrollTop = this.log.scrollHeight;
    if (this.going && !news.line) this.store.set({ time: news.time, playing: false });
  }

  private async ask(path: string): Promise<void> {
    if (path === "/api/run") this.log.replaceChildren();
    try {
      await post(path, {});
    } catch (error) {
      this.state.className = "state failed";
      this.state.textContent = `✕ ${error instanceof Error ? error.message : String(error)}`;
    }
  }

  private holder(holder: Holder, sheet: Sheet, process: Process, geometries: Geometries): HTMLElement {
    const places = holder.places.filter((p) => p.holds).map((p) => {
      const off = [p.slack ? `may lie ± ${(p.slack * 1e3).toFixed(2)} mm off` : "", p.slack_angle ? `± ${((p.slack_angle * 180) / Math.PI).toFixed(1)} deg turned` : ""];
      const part = sheet.project?.product.parts.some((x) => x.name === p.holds);
      return h("li", {}, h("b", {}, p.holds ?? ""), ` in ${p.name}${part ? ", one for each build" : ", stays"}${off.some(Boolean) ? `. It ${off.filter(Boolean).join(", ")}` : ""}.`);
    });
    return h("article", {}, h("h3", {}, `${holder.kind} ${holder.name === holder.kind ? "" : holder.name}`), holderPicture(process, geometries, holder.name), h("ul", {}, ...places));
  }
}
