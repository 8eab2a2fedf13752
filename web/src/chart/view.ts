// The two-hand process chart: a column per hand, time running down to scale between them.
import { h, s } from "../dom.ts";
import type { Element } from "../generated/sheet.ts";
import type { Process } from "../process/process.ts";
import { choose, go, step } from "../steps.ts";
import type { Looking, Store } from "../store.ts";
import { micrometres, phrase, ratio, seconds } from "../words.ts";
import { writtenAt } from "../why/place.ts";
import { spread } from "./spread.ts";
import { OUTLINE, SYMBOL_OF } from "./symbols.ts";

// In units of the drawing, which is scaled by the size of letters. Distances from the middle of the axis.
const PITCH = 22;
const AXIS = 17;
const BAR = 11;
const SYMBOL = 42;
const TOP = 8;
const AXIS_WIDTH = 2 * 52;

export class ChartView {
  readonly root = h("section", { class: "chart", "aria-label": "Two-hand process chart" });
  private process: Process;
  private readonly store: Store;
  private readonly sheet = h("div", { class: "columns" });
  private readonly now = s("line", { class: "now", x1: -52, x2: 52 });
  private readonly legend = h("p", { class: "key small" }, "A strong line beside a bar: on the critical path, where each element begins when the one before it ends.");
  private rows = new Map<number, HTMLButtonElement>();
  private bars = new Map<number, SVGElement>();
  private scale = 20;
  private shown: number | null = null;

  constructor(process: Process, store: Store) {
    this.process = process;
    this.store = store;
    this.root.append(this.sheet, this.legend);
    this.replace(process);
    store.subscribe((now, before) => this.update(now, before));
    let height = this.root.clientHeight;
    new ResizeObserver(() => {
      if (Math.abs(this.root.clientHeight - height) < 60 || !this.root.clientHeight) return;
      height = this.root.clientHeight;
      this.replace(this.process);
    }).observe(this.root);
  }

  replace(process: Process): void {
    const top = this.root.scrollTop;
    this.process = process;
    this.rows = new Map();
    this.bars = new Map();
    const chart = process.chart;
    if (!chart) {
      const no = process.sheet.no_plan;
      const place = no ? writtenAt(process.sheet, `mate ${no.mate}`) : "";
      const said = no ? `No plan for ${no.mate}${place ? ` (${place})` : ""}: ${no.causes.map((c) => `${c.count} × ${c.cause}`).join(", ")}. See Why.` : "There is no chart of these files yet.";
      this.sheet.replaceChildren(h("p", { class: "empty" }, said));
      this.legend.hidden = true;
      return;
    }
    const most = Math.max(1, ...chart.hands.map((hand) => process.elements.filter((e) => e.hand === hand).length));
    // At least so long that labels have room; longer where the screen has.
    const room = this.root.clientHeight / this.unit() - TOP - 92;
    this.scale = Math.max(14, (PITCH * (most + 1)) / Math.max(process.makespan, 1e-6), room / Math.max(process.makespan, 1e-6));
    const [left = "", right = ""] = chart.hands;
    const places = new Map<number, number>();
    const columns = [left, right].map((hand, i) => this.column(hand, i, places));
    const height = TOP + Math.max(process.makespan * this.scale, ...places.values()) + 34;
    const axis = this.axis(height, places);
    this.sheet.replaceChildren(columns[0] ?? "", axis, columns[1] ?? "");
    this.legend.hidden = !process.sheet.critical.length;
    this.sheet.style.setProperty("--height", String(height));
    this.root.scrollTop = top;
    this.shown = null;
    this.update(this.store.now, this.store.now);
  }

  /** Pixels of a unit of the drawing: a fifteenth of the size of letters. */
  private unit(): number {
    return parseFloat(getComputedStyle(document.documentElement).fontSize) / 15 || 1;
  }

  private column(hand: string, side: number, places: Map<number, number>): HTMLElement {
    const own = this.process.elements.filter((e) => e.hand === hand);
    const wanted = own.map((e) => TOP + e.start_s * this.scale + Math.min((e.duration_s * this.scale) / 2, PITCH / 2));
    spread(wanted, PITCH).forEach((y, i) => places.set(own[i]?.number ?? 0, Math.max(y, TOP + PITCH / 2 + i * PITCH)));
    const rows = own.map((e) => h("li", {}, this.row(e, places.get(e.number) ?? 0)));
    const head = h("h2", {}, hand ? `${hand} hand` : "");
    return h("div", { class: `hand hand${side}` }, head, h("ol", { "aria-label": `${hand} hand` }, ...rows));
  }

  private row(e: Element, y: number): HTMLButtonElement {
    const symbol = SYMBOL_OF[e.kind];
    const note = this.note(e);
    const button = h(
      "button",
      {
        type: "button", class: `element ${symbol}`, id: `element-${e.number}`, tabindex: -1, "data-element": e.number,
        title: `${e.number} ${phrase(e)}, ${seconds(e.start_s)} s to ${seconds(e.start_s + e.duration_s)} s`,
      },
      h("span", { class: "number" }, String(e.number)),
      h("span", { class: "unseen" }, `, ${symbol}: `), h("span", { class: "what" }, phrase(e)), note ? h("small", {}, note) : null,
      h("span", { class: "takes" }, seconds(e.duration_s)), h("span", { class: "unseen" }, ` seconds, from ${seconds(e.start_s)}${this.critical(e) ? ", on the critical path" : ""}`),
    );
    button.style.setProperty("--y", String(y - PITCH / 2));
    button.addEventListener("click", () => choose(this.store, e));
    button.addEventListener("keydown", (event) => this.key(event));
    this.rows.set(e.number, button);
    return button;
  }

  /** Mates and touches carry their margin. */
  private note(e: Element): string {
    const row = this.process.sheet.ledger?.rows.find((r) => r.mate === e.mate);
    if (!row) return "";
    if (e.id === row.element) return `margin ${ratio(row.margin_ratio, 1)}`;
    if (e.kind !== "locate") return "";
    return `σ ${micrometres(row.before.sigma_major).replace(" µm", "")} → ${micrometres(row.after.sigma_major)}`;
  }

  /** Bars, ticks and symbols between the columns. */
  private axis(height: number, places: Map<number, number>): SVGSVGElement {
    const hands = this.process.chart?.hands ?? [];
    const marks: SVGElement[] = [];
    for (let t = 0; t <= this.process.makespan; t += 1) {
      const y = TOP + t * this.scale;
      const far = t % 5 === 0;
      marks.push(s("line", { class: far ? "tick five" : "tick", x1: far ? -AXIS : -5, x2: far ? AXIS : 5, y1: y, y2: y }));
      if (far) marks.push(s("text", { class: "second", x: 0, y: y + 4 }, String(t)));
    }
    const end = TOP + this.process.makespan * this.scale;
    marks.push(s("line", { class: "end", x1: -AXIS - BAR, x2: AXIS + BAR, y1: end, y2: end }));
    marks.push(s("text", { class: "second last", x: 0, y: end + 15 }, `${seconds(this.process.makespan)} s`));
    for (const e of this.process.elements) {
      const side = hands.indexOf(e.hand) === 0 ? -1 : 1;
      const bar = this.bar(e, side, places.get(e.number) ?? 0);
      if (this.critical(e)) bar.append(s("path", { class: "critical", d: `M${side * (AXIS + BAR + 2.5)} ${TOP + e.start_s * this.scale}v${Math.max(2, e.duration_s * this.scale)}` }));
      this.bars.set(e.number, bar);
      marks.push(bar);
    }
    const svg = s(
      "svg",
      { class: "axis", viewBox: `${-AXIS_WIDTH / 2} 0 ${AXIS_WIDTH} ${height}`, "aria-hidden": "true" },
      s("defs", {}, s("pattern", { id: "held", width: 5, height: 5, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" }, s("line", { class: "hatch", x1: 0, y1: 0, x2: 0, y2: 5 }))),
      ...marks, ...this.handovers(), this.now,
    );
    this.scrub(svg);
    return svg;
  }

  private bar(e: Element, side: number, y: number): SVGElement {
    const symbol = SYMBOL_OF[e.kind];
    const start = TOP + e.start_s * this.scale;
    const height = Math.max(2, e.duration_s * this.scale - 1.5);
    const near = side * (AXIS + BAR);
    const middle = start + Math.min(height / 2, PITCH / 2);
    return s(
      "g", { class: `bar ${symbol} hand${side < 0 ? 0 : 1}` },
      s("rect", { x: side > 0 ? AXIS : -AXIS - BAR, y: start, width: BAR, height }),
      s("path", { class: "leader", d: `M${near} ${middle}h${side * 2}L${side * (SYMBOL - 8)} ${y}` }),
      s("path", { class: "symbol", transform: `translate(${side * (SYMBOL + 3)} ${y}) scale(1.15)`, d: OUTLINE[symbol] }),
    );
  }

  private critical(e: Element): boolean {
    return this.process.sheet.critical.includes(e.number);
  }

  private handovers(): SVGElement[] {
    return this.process.elements.filter((e) => e.kind === "grasp" && e.target.startsWith("hand.")).map((e) => {
      const y = TOP + (e.start_s + e.duration_s) * this.scale;
      return s("path", { class: "handover", d: `M${-AXIS - BAR} ${y}H-8M8 ${y}H${AXIS + BAR}` });
    });
  }

  /** Drag along the time axis. */
  private scrub(svg: SVGSVGElement): void {
    const to = (event: PointerEvent): void => {
      const box = svg.getBoundingClientRect();
      const units = svg.viewBox.baseVal.height / Math.max(1, box.height);
      go(this.store, this.process, ((event.clientY - box.top) * units - TOP) / this.scale);
    };
    svg.addEventListener("pointerdown", (event) => {
      svg.setPointerCapture(event.pointerId);
      this.store.set({ playing: false });
      to(event);
    });
    svg.addEventListener("pointermove", (event) => {
      if (svg.hasPointerCapture(event.pointerId)) to(event);
    });
  }

  private key(event: KeyboardEvent): void {
    if (event.key !== "ArrowDown" && event.key !== "ArrowUp") return;
    event.preventDefault();
    event.stopPropagation();
    step(this.store, this.process, event.key === "ArrowDown" ? 1 : -1);
    this.rows.get(this.store.now.element ?? -1)?.focus({ preventScroll: true });
  }

  private update(now: Looking, before: Looking): void {
    const y = TOP + now.time * this.scale;
    this.now.setAttribute("y1", String(y));
    this.now.setAttribute("y2", String(y));
    const going = new Set(this.process.elementsAt(now.time).map((e) => e.number));
    for (const [number, row] of this.rows) {
      const chosen = number === now.element;
      row.classList.toggle("going", going.has(number));
      row.classList.toggle("of-mate", now.mate !== null && this.process.element(number)?.mate === now.mate);
      if (chosen) row.setAttribute("aria-current", "true");
      else row.removeAttribute("aria-current");
      row.tabIndex = chosen || (now.element === null && number === 1) ? 0 : -1;
      this.bars.get(number)?.classList.toggle("going", going.has(number));
    }
    if (now.time !== before.time || now.element !== this.shown) this.keepInSight(now);
    this.shown = now.element;
  }

  /** Scroll as little as shows the line of now and the chosen element. */
  private keepInSight(now: Looking): void {
    const row = this.rows.get(now.element ?? -1);
    if (!row) return;
    const box = this.root.getBoundingClientRect();
    const own = row.getBoundingClientRect();
    const edge = box.height * 0.18;
    if (own.top < box.top + edge + 20) this.root.scrollTop += own.top - box.top - edge - 20;
    else if (own.bottom > box.bottom - edge) this.root.scrollTop += own.bottom - box.bottom + edge;
  }
}
