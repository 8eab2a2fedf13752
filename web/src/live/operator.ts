// What the person at the cell needs: load, start, stop, go on. Only a simulated cell can be started here.
import type { Geometries } from "../cell/bodies.ts";
import { h } from "../dom.ts";
import type { LogLine } from "../generated/sheet.ts";
import type { Process } from "../process/process.ts";
import type { Store } from "../store.ts";
import { seconds } from "../words.ts";
import { type News, post } from "./connection.ts";
import { Loading } from "./loading.ts";
import { Restart } from "./restart.ts";

export class OperatorView {
  readonly root = h("section", { class: "operator", "aria-label": "Operator" });
  private readonly state = h("p", { class: "state", role: "status" }, "Not started.");
  private readonly log = h("ol", { class: "log", tabindex: 0, "aria-label": "What the cell has done" });
  private readonly start = h("button", { type: "button", class: "start" }, "▶ Start one build in the simulated cell");
  private readonly stop = h("button", { type: "button", class: "stop", disabled: true }, "■ Stop");
  private readonly need = h("p", { class: "need small" });
  private readonly cautions = h("ul", {});
  private readonly loading: Loading;
  private readonly restart: Restart;
  private process: Process | null = null;
  private lines: LogLine[] = [];
  private going = false;

  constructor(store: Store, readings: HTMLElement) {
    this.loading = new Loading(() => this.arrange());
    this.restart = new Restart(store, (body) => void this.begin(body));
    this.start.addEventListener("click", () => void this.begin({}));
    this.stop.addEventListener("click", () => void this.ask("/api/stop", {}));
    this.root.append(
      this.loading.root,
      h(
        "div", { class: "running", tabindex: 0, role: "region", "aria-label": "Run" }, h("h2", {}, "Run"), h("div", { class: "buttons" }, this.start, this.stop), this.need, this.state, this.log,
        this.restart.root, readings, h("div", { class: "caution" }, h("h3", {}, "! Cautions"), this.cautions),
      ),
    );
  }

  replace(process: Process, geometries: Geometries): void {
    this.process = process;
    this.loading.replace(process, geometries);
    this.restart.replace(process, this.lines);
    this.cautions.replaceChildren(...process.sheet.cautions.map((c) => h("li", {}, c)));
    this.arrange();
  }

  heard(news: Extract<News, { kind: "run" }>): void {
    const on = news.state === "going";
    if (on && !this.going) this.begun();
    if (news.line) this.lines.push(news.line);
    if (!on && this.going) this.ended();
    this.state.className = `state ${news.state}`;
    const sign = { going: "▶", done: "✓", stopped: "■", failed: "✕" }[news.state];
    this.state.textContent = `${sign} ${seconds(news.time)} s: ${news.text}`;
    if (news.line && news.line.event !== "failure" && news.line.event !== "recovery") return; // told by the readings
    this.log.append(h("li", {}, `${seconds(news.time)} s  ${news.text}`));
    this.log.scrollTop = this.log.scrollHeight;
  }

  private ended(): void {
    this.going = false;
    this.restart.busy(false);
    if (this.process) this.restart.replace(this.process, this.lines);
    this.arrange();
  }

  private arrange(): void {
    const sheet = this.process?.sheet;
    const load = this.going || this.loading.loaded ? "" : "Load what is shown and tick it: then it can start.";
    this.need.textContent = sheet?.ledger ? load : "A build needs a chart and a ledger: budget the chart first.";
    this.start.disabled = this.going || !sheet?.chart || !sheet.ledger || !this.loading.loaded;
    this.stop.disabled = !this.going;
  }

  /** A build from its start takes what was loaded; one that goes on has it in its hands. */
  private async begin(what: { from?: number }): Promise<void> {
    if (!(await this.ask("/api/run", what))) return;
    if (what.from === undefined) {
      this.log.replaceChildren();
      this.loading.taken();
    }
    this.state.className = "state going";
    this.state.textContent = what.from === undefined ? "▶ starting" : `▶ planning and proving the way in to element ${what.from}`;
    this.begun();
  }

  private begun(): void {
    this.going = true;
    this.lines = [];
    this.restart.busy(true);
    this.arrange();
  }

  private async ask(path: string, body: object): Promise<boolean> {
    try {
      await post(path, body);
      return true;
    } catch (error) {
      this.state.className = "state failed";
      this.state.textContent = `✕ ${error instanceof Error ? error.message : String(error)}`;
      return false;
    }
  }
}
