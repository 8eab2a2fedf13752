// The cell, moving with the time that is looked at.
import { Box3, type Object3D, Vector3 } from "three";
import { h, toggle } from "../dom.ts";
import type { Element, MateRow } from "../generated/sheet.ts";
import { axisOf, origin, poseMatrix } from "../process/pose.ts";
import type { Moment, Process } from "../process/process.ts";
import type { Looking, Store } from "../store.ts";
import { fitDrawing } from "../ledger/fit_drawing.ts";
import { micrometres } from "../words.ts";
import type { Geometries } from "./bodies.ts";
import { Labels, type Named } from "./labels.ts";
import { EstimateMark, featuresOf, frameMarks, MAGNIFIED, pathMarks } from "./marks.ts";
import { Picture } from "./picture.ts";
import { FRONT } from "./viewpoint.ts";

const CLOSE = 0.3;

export class CellView {
  readonly root = h("div", { class: "cell" });
  readonly picture: Picture;
  moment: Moment;
  private process: Process;
  private readonly store: Store;
  private readonly labels = new Labels();
  private readonly note = h("p", { class: "note", "aria-live": "off" });
  private readonly look = h("select", { "aria-label": "Look at" });
  private readonly stage = h("div", { class: "stage" });
  private readonly on = { names: true, frames: false, paths: false, estimate: false, section: false };
  private estimate: EstimateMark;
  private paths: ReturnType<typeof pathMarks> | null = null;
  private frames: Object3D | null = null;
  private following = false;
  private moved = false;
  private readonly inset = h("div", { class: "inset", hidden: true });
  private insetOf: Process | null = null;

  constructor(process: Process, geometries: Geometries, store: Store) {
    this.process = process;
    this.store = store;
    this.picture = new Picture(geometries, process);
    this.moment = process.at(0);
    this.estimate = new EstimateMark(this.picture.colours);
    this.picture.scene.add(this.estimate.mesh);
    this.build();
    this.picture.place(this.moment, process);
    this.picture.drawn = () => this.labels.place(this.picture.viewpoint.camera, this.stage.clientWidth, this.stage.clientHeight);
    this.fillLook();
    new ResizeObserver(() => this.resize()).observe(this.stage);
    store.subscribe((now, before) => this.update(now, before));
    this.refresh();
  }

  /** Another sheet, the same view. */
  replace(process: Process, geometries: Geometries | null): void {
    this.process = process;
    if (geometries) this.picture.replace(geometries, process);
    if (this.paths) this.showPaths(false);
    if (this.on.paths) this.showPaths(true);
    this.fillLook();
    this.refresh();
  }

  repaint(): void {
    this.picture.repaint(this.process);
    this.picture.scene.remove(this.estimate.mesh);
    this.estimate = new EstimateMark(this.picture.colours);
    this.picture.scene.add(this.estimate.mesh);
    if (this.on.paths) {
      this.showPaths(false);
      this.showPaths(true);
    }
    this.refresh();
  }

  whole(): void {
    this.lookAt("whole");
  }

  /** Fit to a holder, seen from above. */
  lookDown(holder: string): void {
    const own = this.picture.holder(holder);
    this.picture.viewpoint.look(this.picture.viewpoint.fit(own, new Vector3(-0.12, -0.45, 1).normalize(), 1.25));
  }

  private build(): void {
    const canvas = this.picture.canvas;
    canvas.tabIndex = 0;
    canvas.setAttribute("role", "img");
    canvas.setAttribute("aria-label", "The cell in 3-D. Shift and arrow keys turn the view, plus and minus zoom.");
    canvas.addEventListener("keydown", (event) => this.key(event));
    this.stage.append(canvas, this.labels.root, this.note, this.inset);
    const bar = h(
      "div", { class: "toolbar", role: "toolbar", "aria-label": "The picture of the cell" }, this.look,
      toggle("Names", "Names of hands and holders", true, (on) => this.switch("names", on)),
      toggle("Frames", "Feature frames and the way in of this mate", false, (on) => this.switch("frames", on)),
      toggle("Paths", "Where the hands go", false, (on) => this.switch("paths", on)),
      toggle("Estimate", `Three sigma of where the part is, in the hand and then against what it goes to, ${MAGNIFIED} times as large`, false, (on) => this.switch("estimate", on)),
      toggle("Section", "Cut through the axis of this mate and look into the bore", false, (on) => this.switch("section", on)),
    );
    this.picture.viewpoint.controls.addEventListener("start", () => {
      this.moved = true;
    });
    this.look.addEventListener("change", () => this.lookAt(this.look.value));
    this.root.append(bar, this.stage);
  }

  private fillLook(): void {
    const chosen = this.look.value || "whole";
    const holders = this.process.sheet.project?.cell.holders ?? [];
    const views: [string, string][] = [
      ["whole", "Look at: whole cell"], ["work", "Look at: the work, following it"],
      ...holders.map((o): [string, string] => [`holder ${o.name}`, `Look at: ${o.kind} ${o.name === o.kind ? "" : o.name}`]),
      ...[...this.process.arms.keys()].map((a): [string, string] => [`hand ${a}`, `Look at: ${a} hand`]),
      ...(this.process.sheet.project?.cell.cameras ?? []).map((c): [string, string] => [`camera ${c.name}`, `Look as: camera ${c.name}`]),
    ];
    this.look.replaceChildren(...views.map(([value, text]) => h("option", { value }, text.trim())));
    this.look.value = views.some(([value]) => value === chosen) ? chosen : "whole";
  }

  private lookAt(what: string): void {
    this.look.value = what;
    this.following = what === "work" || what.startsWith("hand ");
    const viewpoint = this.picture.viewpoint;
    this.moved = false;
    if (what === "whole") viewpoint.look(viewpoint.fit(this.picture.worked(), FRONT, 1.22));
    else if (what.startsWith("holder ")) viewpoint.look(viewpoint.fit(this.picture.holder(what.slice(7)), FRONT, 1.5));
    else if (what.startsWith("camera ")) this.lookAs(what.slice(7));
    else viewpoint.look({ target: this.followed(), direction: FRONT.clone(), width: CLOSE });
  }

  /** From where a camera of the cell looks, as wide as it sees at the height of the world's origin or 1 m off. */
  private lookAs(name: string): void {
    const camera = this.process.sheet.project?.cell.cameras.find((c) => c.name === name);
    if (!camera) return;
    const T = poseMatrix(camera.pose);
    const along = axisOf(T, 2);
    const away = along.z < -0.1 ? Math.max(0.05, origin(T).z / -along.z) : 1;
    const target = origin(T).addScaledVector(along, away);
    this.picture.viewpoint.look({ target, direction: along.clone().negate(), width: 2 * away * Math.tan(camera.field_of_view / 2) });
  }

  private followed(): Vector3 {
    if (this.look.value.startsWith("hand ")) return origin(this.moment.hands.get(this.look.value.slice(5)) ?? [...this.moment.hands.values()][0]!);
    const own = this.current();
    const T = own && (this.moment.items.get(own.object) ?? this.moment.hands.get(own.hand));
    return T ? origin(T) : this.picture.viewpoint.controls.target.clone();
  }

  /** The element that one would watch: the chosen one while it goes on, or one that is at work. */
  private current(): Element | undefined {
    const going = this.process.elementsAt(this.store.now.time);
    return going.find((e) => e.number === this.store.now.element) ?? going.find((e) => e.kind !== "delay" && e.kind !== "hold") ?? going[0];
  }

  private switch(what: keyof typeof this.on, on: boolean): void {
    this.on[what] = on;
    if (what === "paths") this.showPaths(on);
    if (what === "section") this.section(true);
    this.refresh();
  }

  private showPaths(on: boolean): void {
    if (this.paths) this.picture.scene.remove(this.paths.group);
    this.paths = on ? pathMarks(this.process, this.picture.colours) : null;
    if (this.paths) this.picture.scene.add(this.paths.group);
  }

  private update(now: Looking, before: Looking): void {
    if (now.time !== before.time || now.mate !== before.mate || now.element !== before.element) this.refresh();
    if (now.mate !== before.mate && this.on.section) this.section(true);
  }

  refresh(): void {
    const time = this.store.now.time;
    this.moment = this.process.at(time);
    this.picture.place(this.moment, this.process);
    this.paths?.show(time);
    if (this.frames) this.picture.scene.remove(this.frames);
    this.frames = null;
    const pairs = this.store.now.mate ? featuresOf(this.process, this.store.now.mate, this.moment) : [];
    if (this.on.frames && pairs.length) this.picture.scene.add((this.frames = frameMarks(pairs, this.picture.colours)));
    if (this.on.section) this.section(false);
    this.showInset();
    const notes = [this.estimateNote(), this.depthNote(pairs[0]), this.on.section && !pairs.length ? "Choose a mate to cut through it." : "", this.on.frames && !pairs.length ? "Choose a mate to see its frames." : ""];
    this.note.textContent = notes.filter(Boolean).join(" ");
    this.labels.set([...(this.on.names ? this.names() : []), ...(this.on.frames ? pairs.flatMap((p) => frameNames(p)) : [])]);
    if (this.following) this.picture.viewpoint.follow(this.followed());
  }

  private estimateNote(): string {
    const row = this.row();
    this.estimate.mesh.visible = false;
    if (!this.on.estimate) return "";
    if (!row) return "Choose a mate that is budgeted to see its estimate.";
    const told = this.estimate.place(this.process, row, this.moment, this.store.now.time);
    if (!told) return "";
    const axes = told.three.map((v) => micrometres(v).replace(" µm", "")).join(" × ");
    return `${told.words}: three sigma ${axes} µm, drawn ${MAGNIFIED} times as large.`;
  }

  /** While cut: how far the moving feature is from the mouth of a hole, or from the tip it goes over. */
  private depthNote(pair: ReturnType<typeof featuresOf>[number] | undefined): string {
    if (!this.on.section || !pair) return "";
    const [part = "", feature = ""] = pair.fixed.name.split(".");
    const kind = this.process.sheet.project?.product.parts.find((p) => p.name === part)?.features.find((f) => f.name === feature)?.kind;
    const tip = kind === "shaft"; // its z axis points out of it, against the way in
    const along = origin(pair.moving.T).sub(origin(pair.fixed.T)).dot(axisOf(pair.fixed.T, 2)) * (tip ? -1 : 1);
    return `${pair.moving.name} is ${Math.abs(along * 1e3).toFixed(2)} mm ${along < 0 ? "before" : "past"} the ${tip ? "tip" : "mouth"} of ${pair.fixed.name}.`;
  }

  /** Beside the cut, where nobody could see micrometres: the fit with its clearance to scale. */
  private showInset(): void {
    const row = this.row();
    const key = this.on.section && row ? row.mate : "";
    if (this.inset.dataset.mate === key && this.insetOf === this.process) return;
    const drawing = key && row ? fitDrawing(this.process.sheet, row) : null;
    this.inset.dataset.mate = key;
    this.insetOf = this.process;
    this.inset.hidden = !drawing;
    this.inset.replaceChildren(...(drawing ? [drawing] : []));
  }

  private row(): MateRow | undefined {
    return this.process.sheet.ledger?.rows.find((r) => r.mate === this.store.now.mate);
  }

  /** Cut through the axis of the chosen mate; turned: look square onto the cut as well. */
  private section(turned: boolean): void {
    const mate = this.process.sheet.project?.product.mates.find((m) => m.name === this.store.now.mate);
    const pair = mate && featuresOf(this.process, mate.name, this.moment)[0];
    if (!this.on.section || !mate || !pair) {
      this.picture.cut(null);
      if (turned && !this.on.section) this.whole();
      return;
    }
    const axis = axisOf(pair.fixed.T, 2);
    const view = new Vector3(0, -1, 0);
    const normal = Math.abs(axis.dot(view)) > 0.9 ? new Vector3(1, 0, 0) : view.addScaledVector(axis, -axis.dot(view)).normalize();
    const kind = this.process.sheet.project?.product.parts.find((p) => p.name === mate.part)?.features.find((f) => f.name === mate.pairs[0]?.moving)?.kind;
    // Pins, shafts and screws are not cut lengthwise in a section drawing.
    const whole = kind === "shaft" || kind === "thread" ? `part:${mate.part}` : null;
    this.picture.cut({ point: origin(pair.fixed.T), normal, whole });
    if (turned) {
      this.following = false;
      this.moved = true;
      const width = Math.max(0.03, this.picture.sizeOf(`part:${mate.part}`) * 2.2);
      this.picture.viewpoint.look({ target: origin(pair.fixed.T), direction: normal.clone().setZ(0.04).normalize(), width });
    }
  }

  private names(): Named[] {
    const hands = [...this.moment.links].map(([name, links]): Named => ({
      text: `${name} hand`, at: origin(links[0]!).add(new Vector3(0, -0.11, 0)), kind: "hand",
    }));
    const holders = (this.process.sheet.project?.cell.holders ?? []).flatMap((holder): Named[] => {
      const box = new Box3();
      for (const object of this.picture.holder(holder.name)) box.expandByObject(object);
      if (box.isEmpty()) return [];
      const middle = box.getCenter(new Vector3());
      return [{ text: holder.name, at: new Vector3(middle.x, box.min.y, box.min.z), kind: "spot" }];
    });
    return [...hands, ...holders];
  }

  private resize(): void {
    this.picture.resize(this.stage.clientWidth, this.stage.clientHeight);
    // Another size, the same view; a view of the whole that nobody has turned is fitted anew.
    if (this.stage.clientWidth > 2 && !this.moved && this.look.value === "whole") this.whole();
  }

  private key(event: KeyboardEvent): void {
    const turn: Record<string, [number, number]> = { ArrowLeft: [-0.15, 0], ArrowRight: [0.15, 0], ArrowUp: [0, 0.12], ArrowDown: [0, -0.12] };
    const by = turn[event.key];
    this.moved ||= (event.shiftKey && by !== undefined) || "+=-".includes(event.key);
    if (event.shiftKey && by) this.picture.viewpoint.turn(...by);
    else if (event.key === "+" || event.key === "=") this.picture.viewpoint.zoom(0.8);
    else if (event.key === "-") this.picture.viewpoint.zoom(1.25);
    else return;
    event.preventDefault();
    event.stopPropagation();
  }
}

function frameNames(pair: ReturnType<typeof featuresOf>[number]): Named[] {
  return [pair.moving, pair.fixed].map((p) => ({ text: p.name, at: origin(p.T), kind: "frame" }));
}
