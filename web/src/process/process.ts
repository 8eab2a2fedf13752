// The chart as a motion: joints, jaws and attachments at any time. The rules are those of model/motion.py and
// page/moment.py; the browser tests hold both against each other.
import { Matrix4 } from "three";
import type { Attachment, Chart, Element, Motion, Sheet } from "../generated/sheet.ts";
import { Kinematics } from "./kinematics.ts";
import { poseMatrix } from "./pose.ts";

interface Stretch {
  start: number;
  motion: Motion;
}

interface Width {
  start: number;
  end: number;
  to: number;
}

interface SceneFrom {
  at: number;
  attached: Map<string, Attachment>;
}

/** Where everything is at one time. */
export interface Moment {
  links: Map<string, Matrix4[]>;
  hands: Map<string, Matrix4>;
  widths: Map<string, number>;
  items: Map<string, Matrix4>;
  attached: Map<string, Attachment>;
}

const EPSILON = 1e-9;

export class Process {
  readonly sheet: Sheet;
  readonly chart: Chart | null;
  readonly elements: Element[];
  readonly makespan: number;
  readonly arms: Map<string, Kinematics>;
  private readonly stretches = new Map<string, Stretch[]>();
  private readonly jaws = new Map<string, Width[]>();
  private readonly scenes: SceneFrom[];
  private readonly places = new Map<string, Matrix4>();

  constructor(sheet: Sheet) {
    this.sheet = sheet;
    this.chart = sheet.chart;
    this.elements = [...(sheet.chart?.elements ?? [])].sort((a, b) => a.start_s - b.start_s || a.number - b.number);
    this.makespan = sheet.chart?.makespan_s ?? 0;
    this.arms = new Map(sheet.arms.map((arm) => [arm.name, new Kinematics(arm)]));
    for (const name of this.arms.keys()) {
      const own = this.elements.filter((e) => e.hand === name);
      this.stretches.set(name, own.flatMap(stretchesOf));
      this.jaws.set(name, own.flatMap(widthsOf));
    }
    for (const holder of sheet.project?.cell.holders ?? [])
      for (const place of holder.places)
        this.places.set(`${holder.name}.${place.name}`, poseMatrix(holder.pose).multiply(poseMatrix(place.pose)));
    this.scenes = this.scenesOf();
  }

  /** The elements going on at that time, one a hand at most. */
  elementsAt(time: number): Element[] {
    return (this.chart?.hands ?? []).flatMap((hand) => {
      const own = this.elements.filter((e) => e.hand === hand && e.start_s <= time + 1e-6);
      const last = own[own.length - 1];
      return last && time <= last.start_s + last.duration_s + 1e-6 ? [last] : [];
    });
  }

  element(number: number): Element | undefined {
    return this.elements.find((e) => e.number === number);
  }

  joints(arm: string, time: number): number[] {
    const own = this.stretches.get(arm) ?? [];
    let q = this.arms.get(arm)?.arm.home ?? [];
    for (const stretch of own) {
      if (stretch.start > time) break;
      q = onMotion(stretch.motion, time - stretch.start);
    }
    return q;
  }

  /** Between the pads [m]; while jaws close or open, on the way. */
  width(arm: string, time: number): number {
    const open = this.arms.get(arm)?.arm.opening[1] ?? 0;
    let width = this.chart?.start.openings.find(([name]) => name === arm)?.[1] ?? open;
    for (const step of this.jaws.get(arm) ?? []) {
      if (step.start > time) break;
      const share = step.end > step.start ? Math.min(1, (time - step.start) / (step.end - step.start)) : 1;
      width += (step.to - width) * share;
    }
    return width;
  }

  at(time: number): Moment {
    const links = new Map<string, Matrix4[]>();
    const hands = new Map<string, Matrix4>();
    const widths = new Map<string, number>();
    for (const [name, arm] of this.arms) {
      const own = arm.links(this.joints(name, time));
      links.set(name, own);
      hands.set(name, arm.grip(own));
      widths.set(name, this.width(name, time));
    }
    const attached = this.attachedAt(time);
    const items = new Map<string, Matrix4>();
    for (const item of attached.keys()) this.world(item, attached, hands, items, 0);
    return { links, hands, widths, items, attached };
  }

  private attachedAt(time: number): Map<string, Attachment> {
    let found = this.scenes[0]?.attached ?? new Map<string, Attachment>();
    for (const scene of this.scenes) {
      if (scene.at > time + EPSILON) break;
      found = scene.attached;
    }
    return found;
  }

  /** Before there is a chart, things lie where the cell says. */
  private scenesOf(): SceneFrom[] {
    const start = this.chart?.start.attachments ?? this.lying();
    let attached = new Map(start.map((a) => [a.item, a]));
    const scenes: SceneFrom[] = [{ at: -Infinity, attached }];
    const acts = this.elements.filter((e) => e.grasp !== null || e.leaves !== null).sort((a, b) => actsAt(a) - actsAt(b));
    for (const e of acts) {
      attached = new Map(attached);
      if (e.grasp) attached.set(e.grasp.item, { item: e.grasp.item, parent: `hand.${e.hand}`, pose: e.grasp.T_grip_part });
      if (e.leaves) attached.set(e.leaves.item, e.leaves);
      scenes.push({ at: actsAt(e), attached });
    }
    return scenes;
  }

  private lying(): Attachment[] {
    const here = { position: [0, 0, 0], quaternion: [1, 0, 0, 0] } satisfies Attachment["pose"];
    return (this.sheet.project?.cell.holders ?? []).flatMap((holder) =>
      holder.places.flatMap((p) => (p.holds ? [{ item: p.holds, parent: `place.${holder.name}.${p.name}`, pose: here }] : [])),
    );
  }

  private world(
    item: string, attached: Map<string, Attachment>, hands: Map<string, Matrix4>, items: Map<string, Matrix4>, depth: number,
  ): Matrix4 {
    const known = items.get(item);
    const own = attached.get(item);
    if (known || !own || depth > 50) return known ?? new Matrix4();
    const dot = own.parent.indexOf(".");
    const kind = own.parent.slice(0, dot);
    const name = own.parent.slice(dot + 1);
    let parent: Matrix4;
    if (kind === "hand") parent = hands.get(name) ?? new Matrix4();
    else if (kind === "place") parent = this.places.get(name) ?? new Matrix4();
    else {
      parent = this.world(name, attached, hands, items, depth + 1);
      const tool = kind === "tool" ? this.sheet.project?.cell.tools.find((t) => t.name === name) : undefined;
      if (tool) parent = parent.clone().multiply(poseMatrix(tool.bit));
    }
    const T = parent.clone().multiply(poseMatrix(own.pose));
    items.set(item, T);
    return T;
  }
}

/** When an element changes what is attached where [s]: once its jaws have closed or opened. */
function actsAt(e: Element): number {
  return e.grasp !== null || e.kind === "use" ? e.start_s + e.duration_s : e.start_s + e.before_s;
}

function stretchesOf(e: Element): Stretch[] {
  let start = e.start_s + e.before_s;
  return e.motions.map((motion) => {
    const stretch = { start, motion };
    start += motion.t[motion.t.length - 1] ?? 0;
    return stretch;
  });
}

function widthsOf(e: Element): Width[] {
  if (e.grasp) return [{ start: e.start_s, end: e.start_s + e.duration_s, to: e.grasp.width }];
  if (e.opening === null) return [];
  return [{ start: e.start_s, end: e.start_s + Math.max(e.before_s, 1e-3), to: e.opening }];
}

/** Joint angles [rad] some seconds into a motion: constant acceleration between its knots. */
function onMotion(motion: Motion, s: number): number[] {
  const { t, q, v } = motion;
  const last = t.length - 1;
  if (s >= (t[last] ?? 0)) return q[last] ?? [];
  let i = 0;
  while (i + 1 < last && (t[i + 1] ?? 0) <= s) i += 1;
  const d = s - (t[i] ?? 0);
  const h = (t[i + 1] ?? 0) - (t[i] ?? 0);
  const [from = [], speed = [], next = []] = [q[i], v[i], v[i + 1]];
  return from.map((a, k) => a + (speed[k] ?? 0) * d + (((next[k] ?? 0) - (speed[k] ?? 0)) * d * d) / (2 * h));
}
