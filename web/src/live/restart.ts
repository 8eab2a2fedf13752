// Going on with a build in the middle: what must be where, looked at and confirmed, then on from that element.
import { h } from "../dom.ts";
import type { LogLine } from "../generated/sheet.ts";
import type { Process } from "../process/process.ts";
import { choose } from "../steps.ts";
import type { Store } from "../store.ts";
import { phrase } from "../words.ts";
import { post } from "./connection.ts";
import { lastRun, stoppedAt } from "./readings.ts";

interface Item {
  item: string;
  where: string;
  right: boolean | null;
  how: string;
}

export class Restart {
  readonly root = h("section", { class: "restart", "aria-label": "Go on from an element" });
  private process: Process | null = null;
  private readonly store: Store;
  private readonly run: (body: object) => void;
  private readonly from = h("select", { "aria-label": "Element to go on from" });
  private readonly ask = h("button", { type: "button", class: "mustbe" }, "What must be where?");
  private readonly list = h("div", { class: "listed", role: "status" });
  private going = false;
  private chosen = false;

  constructor(store: Store, run: (body: object) => void) {
    this.store = store;
    this.run = run;
    this.ask.addEventListener("click", () => void this.listed());
    this.from.addEventListener("change", () => this.changed());
    this.root.append(
      h("h3", {}, "Go on from an element"),
      h("p", { class: "small" }, "A build that stopped goes on where it stopped, or from another element. Everything has to be where the chart has it by then."),
      h("div", { class: "buttons" }, h("label", {}, "from ", this.from), this.ask), this.list,
    );
  }

  /** Another sheet; the element that was chosen by hand stays. */
  replace(process: Process, lines: readonly LogLine[]): void {
    this.process = process;
    const kept = Number(this.from.value);
    const told = lines.length ? lines : lastRun(process.sheet);
    const over = told.filter((l) => l.event === "done").pop()?.element === process.elements[process.elements.length - 1]?.id;
    const all = [...process.elements].sort((a, b) => a.number - b.number).filter((e) => e.kind !== "hold" && e.kind !== "delay");
    this.from.replaceChildren(...all.map((e) => h("option", { value: e.number }, `${e.number}  ${e.hand} hand: ${phrase(e)}`)));
    const wanted = this.chosen ? kept : told.length && !over ? stoppedAt(process, told) : (this.store.now.element ?? 1);
    this.from.value = String(all.find((e) => e.number >= wanted)?.number ?? all[0]?.number ?? "");
    this.list.replaceChildren();
    this.busy(this.going);
  }

  busy(going: boolean): void {
    this.going = going;
    if (going) this.chosen = false;
    this.ask.disabled = going || !this.process?.sheet.ledger;
    this.from.disabled = going;
    if (going) this.list.replaceChildren();
  }

  private changed(): void {
    this.chosen = true;
    this.list.replaceChildren();
    const element = this.process?.element(Number(this.from.value));
    if (element) choose(this.store, element);
  }

  private async listed(): Promise<void> {
    const number = Number(this.from.value);
    this.ask.disabled = true;
    this.list.replaceChildren(h("p", {}, "… looking"));
    try {
      const found = await post<{ number: number; items: Item[] }>("/api/must-be", { number });
      this.show(number, found.items);
    } catch (error) {
      this.list.replaceChildren(h("p", { class: "bad" }, `✕ ${error instanceof Error ? error.message : String(error)}`));
    } finally {
      this.ask.disabled = this.going;
    }
  }

  /** Rows with what a person has to look at to be ticked; on only once all is right. */
  private show(number: number, items: Item[]): void {
    const ticks = new Map<string, HTMLInputElement>();
    const confirmed = h("input", { type: "checkbox" });
    const on = h("button", { type: "button", class: "goon" }, `▶ Go on from element ${number}`);
    const rows = items.map((one) => {
      const sign = one.right === null ? "? look" : one.right ? "✓" : "✕ put right";
      const tick = one.right === null ? h("input", { type: "checkbox", "aria-label": `${one.item} is ${one.where}: I have looked` }) : null;
      if (tick) {
        ticks.set(one.item, tick);
        tick.addEventListener("change", arrange);
      }
      return h("tr", { class: one.right === false ? "bad" : null }, h("td", {}, sign, tick), h("th", { scope: "row" }, one.item), h("td", {}, one.where), h("td", {}, one.how));
    });
    const head = h("tr", {}, ...["", "what", "where", "looked at by"].map((t) => h("th", { scope: "col" }, t)));
    const wrong = items.filter((i) => i.right === false).map((i) => i.item);
    function arrange(): void {
      on.disabled = wrong.length > 0 || !confirmed.checked || [...ticks.values()].some((t) => !t.checked);
    }
    confirmed.addEventListener("change", arrange);
    arrange();
    on.addEventListener("click", () => this.run({ from: number, looked: [...ticks.keys()] }));
    this.list.replaceChildren(
      h("h4", {}, `Before element ${number} must be`),
      h("table", {}, h("thead", {}, head), h("tbody", {}, ...rows)),
      wrong.length ? h("p", { class: "bad" }, `✕ Put right: ${wrong.join(", ")}; then ask again.`) : h("label", { class: "confirm" }, confirmed, " It is so: everything lies where the list says, nobody is in the cell."),
      h("div", { class: "buttons" }, on),
    );
    (wrong.length ? this.ask : confirmed).focus();
  }
}
