// The live page: chart, cell and ledger of one project, tied together by what is being looked at.
import "./style.css";
import { readBodies, type Geometries } from "./cell/bodies.ts";
import { TimeBar } from "./cell/timebar.ts";
import { CellView } from "./cell/view.ts";
import { Detail } from "./chart/detail.ts";
import { ChartView } from "./chart/view.ts";
import { h, remember, remembered } from "./dom.ts";
import type { Sheet } from "./generated/sheet.ts";
import { keys } from "./keys.ts";
import { LedgerView } from "./ledger/view.ts";
import { fetchGeometry, fetchSheet, listen, type News } from "./live/connection.ts";
import { EditDialog } from "./live/edit.ts";
import { OperatorView } from "./live/operator.ts";
import { RunView } from "./live/run.ts";
import { changes, Status } from "./live/status.ts";
import { Process } from "./process/process.ts";
import { playing } from "./steps.ts";
import { Store } from "./store.ts";
import { probe } from "./probe.ts";
import { titleBlock } from "./title.ts";
import { openReport } from "./viewer.ts";
import { PartsDialog } from "./why/parts.ts";
import { WhyView } from "./why/view.ts";

class Page {
  private sheet: Sheet;
  private process: Process;
  private geometries: Geometries;
  private before: Sheet | null = null;
  private ended: string | null = null;
  private renewing: Promise<void> = Promise.resolve();
  private readonly store = new Store();
  private readonly status = new Status();
  private readonly edit = new EditDialog();
  private readonly parts = new PartsDialog();
  private readonly why: WhyView;
  private readonly chart: ChartView;
  private readonly cell: CellView;
  private readonly ledger: LedgerView;
  private readonly timebar: TimeBar;
  private readonly operator: OperatorView;
  private readonly run: RunView;
  private readonly title = h("div", { class: "top" });
  private readonly whyButton = h("button", { type: "button", class: "whybutton", "aria-expanded": "false", "aria-controls": "why" });
  private readonly operatorButton = h("button", { type: "button", "aria-pressed": "false" }, "Operator");
  private readonly body = h("main", { class: "body" });

  constructor(sheet: Sheet, geometries: Geometries) {
    this.sheet = sheet;
    this.geometries = geometries;
    this.process = new Process(sheet);
    this.why = new WhyView(this.store, (index) => this.edit.openTried(index));
    this.chart = new ChartView(this.process, this.store);
    this.cell = new CellView(this.process, geometries, this.store);
    this.ledger = new LedgerView(this.process, this.store);
    this.timebar = new TimeBar(this.process, this.store);
    this.run = new RunView(this.process, this.store);
    this.operator = new OperatorView(this.store, this.run.table);
    this.lay();
    this.fill();
    playing(this.store, () => this.process);
    probe(this.store, () => this.process, () => this.cell.picture.cost());
  }

  heard(news: News): void {
    if (news.kind === "work") this.worked(news.text, news.busy);
    else if (news.kind === "run") {
      this.run.heard(news);
      this.operator.heard(news);
    } else if (news.kind === "trial") this.run.tried(news);
    else if (news.kind === "build") this.run.built(news);
    else this.renewing = this.renewing.then(() => this.renew());
  }

  /** A round of checking goes from its first busy word to its first idle one; then one wants to know what it changed. */
  private worked(text: string, busy: boolean): void {
    if (busy) this.before ??= this.sheet;
    this.ended = busy ? null : text;
    if (busy) this.status.work(text, true);
    else void this.renewing.then(() => this.sayWhatChanged());
  }

  private sayWhatChanged(): void {
    if (this.ended === null) return;
    const said = this.before ? changes(this.before, this.sheet) : "";
    this.status.work(said ? `${this.ended}. ${said}` : this.ended, false);
    this.before = null;
  }

  line(down: boolean): void {
    const again = document.body.dataset.line === "lost" && !down;
    document.body.dataset.line = down ? "lost" : "up";
    this.status.line(down);
    if (again) this.renewing = this.renewing.then(() => this.renew());
  }

  private async renew(): Promise<void> {
    try {
      const sheet = await fetchSheet();
      const moved = sheet.geometry !== "" && sheet.geometry !== this.sheet.geometry;
      if (moved) this.geometries = await readBodies(await fetchGeometry());
      this.sheet = sheet;
      this.process = new Process(sheet);
      this.chart.replace(this.process);
      this.cell.replace(this.process, moved ? this.geometries : null);
      this.ledger.replace(this.process);
      this.timebar.replace(this.process);
      this.run.replace(this.process);
      if (this.store.now.time > this.process.makespan) this.store.set({ time: this.process.makespan });
      this.fill();
    } catch (error) {
      this.status.work(`✕ ${error instanceof Error ? error.message : String(error)}`, false);
    }
  }

  private fill(): void {
    document.title = `${this.sheet.project?.name ?? "Handfast"}: two-hand chart`;
    const told = WhyView.summary(this.sheet);
    this.whyButton.textContent = `Why: ${told.text}`;
    this.whyButton.classList.toggle("bad", told.bad);
    this.title.replaceChildren(titleBlock(this.sheet));
    this.why.replace(this.sheet);
    if (told.bad) this.openWhy(true);
    if (document.body.dataset.view === "operator") this.operator.replace(this.process, this.geometries);
  }

  private lay(): void {
    const dialog = keys(this.store, () => this.process, { operator: () => this.toOperator(), why: () => this.openWhy() });
    const change = h("button", { type: "button" }, "Propose a change");
    const parts = h("button", { type: "button" }, "Parts");
    parts.addEventListener("click", () => this.parts.open(this.process, this.geometries));
    const help = h("button", { type: "button", "aria-label": "Keys" }, "?");
    const theme = h("button", { type: "button", title: "Light or dark" }, "◐ Light or dark");
    change.addEventListener("click", () => this.edit.open(this.sheet));
    help.addEventListener("click", () => dialog.showModal());
    theme.addEventListener("click", () => this.turnTheme());
    this.whyButton.addEventListener("click", () => this.openWhy());
    this.operatorButton.addEventListener("click", () => this.toOperator());
    const bar = h("section", { class: "bar", "aria-label": "State and actions" }, this.status.root, this.whyButton, parts, change, this.operatorButton, theme, help);
    this.why.root.hidden = true;
    this.body.append(
      this.chart.root, this.operator.root,
      h("section", { class: "picture", "aria-label": "The cell" }, this.cell.root, new Detail(() => this.process, this.store).root),
      this.run.strip, this.ledger.root,
    );
    document.body.dataset.view = "process";
    document.getElementById("page")?.replaceChildren(this.title, bar, this.why.root, this.body, this.timebar.root, dialog, this.edit.root, this.parts.root);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.cell.repaint());
  }

  private openWhy(on = this.why.root.hidden): void {
    this.why.root.hidden = !on;
    this.whyButton.setAttribute("aria-expanded", String(on));
  }

  private toOperator(): void {
    const on = document.body.dataset.view !== "operator";
    document.body.dataset.view = on ? "operator" : "process";
    this.operatorButton.setAttribute("aria-pressed", String(on));
    if (on) this.operator.replace(this.process, this.geometries);
  }

  private turnTheme(): void {
    const dark = matchMedia("(prefers-color-scheme: dark)").matches;
    const now = document.documentElement.dataset.theme ?? (dark ? "dark" : "light");
    const next = now === "dark" ? "light" : "dark";
    document.documentElement.dataset.theme = next;
    remember("theme", next);
    this.cell.repaint();
    if (document.body.dataset.view === "operator") this.operator.replace(this.process, this.geometries);
  }
}

async function open(): Promise<void> {
  const theme = remembered("theme");
  if (theme) document.documentElement.dataset.theme = theme;
  const root = document.getElementById("page");
  try {
    const [sheet, glb] = await Promise.all([fetchSheet(), fetchGeometry()]);
    const page = new Page(sheet, glb.byteLength ? await readBodies(glb) : new Map());
    listen((news) => page.heard(news), (down) => page.line(down));
    document.body.dataset.ready = "yes";
  } catch (error) {
    root?.replaceChildren(h("p", { class: "broken", role: "alert" }, `✕ ${error instanceof Error ? error.message : String(error)}`));
  }
}

const inReport = document.getElementById("cell-view");
if (inReport) {
  openReport(inReport).catch((error: unknown) => {
    inReport.replaceChildren(h("p", { role: "alert" }, `The cell cannot be drawn here: ${String(error)}`));
  });
} else void open();
