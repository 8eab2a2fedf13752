// What is drawn into the cell on request: feature frames with the way in, the hands' paths, the estimate.
import {
  ArrowHelper, BufferGeometry, Color, Group, Line, LineBasicMaterial, Matrix4, Mesh, MeshBasicMaterial, Quaternion,
  SphereGeometry, Vector3,
} from "three";
import type { MateRow } from "../generated/sheet.ts";
import { origin, poseMatrix } from "../process/pose.ts";
import type { Moment, Process } from "../process/process.ts";
import { principal, type Stage, stageAt } from "./estimate.ts";
import type { Palette } from "./palette.ts";

/** The ellipsoid holds three sigma, drawn this many times as large. */
export const MAGNIFIED = 100;
const AXES = ["#c23b32", "#4b8a2f", "#2f62c2"];

export interface Place {
  name: string;
  T: Matrix4;
}

/** T_world of the features of a mate's pairs, moving and fixed. */
export function featuresOf(process: Process, mateName: string, moment: Moment): { moving: Place; fixed: Place }[] {
  const product = process.sheet.project?.product;
  const mate = product?.mates.find((m) => m.name === mateName);
  const placed = (part: string, feature: string): Place | null => {
    const own = product?.parts.find((p) => p.name === part)?.features.find((f) => f.name === feature);
    const T = moment.items.get(part);
    return own && T ? { name: `${part}.${feature}`, T: T.clone().multiply(poseMatrix(own.frame)) } : null;
  };
  return (mate?.pairs ?? []).flatMap((pair) => {
    const moving = placed(mate?.part ?? "", pair.moving);
    const fixed = placed(pair.fixed_part, pair.fixed);
    return moving && fixed ? [{ moving, fixed }] : [];
  });
}

/** Frames of the features (x red, y green, z blue, named), and the way in as a long arrow along the fixed one. */
export function frameMarks(pairs: { moving: Place; fixed: Place }[], colours: Palette): Group {
  const group = new Group();
  for (const { moving, fixed } of pairs) {
    for (const place of [moving, fixed]) {
      const at = origin(place.T);
      AXES.forEach((colour, i) => {
        const direction = new Vector3().setFromMatrixColumn(place.T, i);
        group.add(new ArrowHelper(direction, at, 0.016, new Color(colour), 0.004, 0.0025));
      });
    }
    const into = new Vector3().setFromMatrixColumn(moving.T, 2);
    const start = origin(fixed.T).addScaledVector(into, -0.07);
    group.add(new ArrowHelper(into, start, 0.048, colours.touch, 0.008, 0.005));
  }
  return group;
}

/** Where each hand's grip frame goes, all along, and strongly during the elements that go on. */
export function pathMarks(process: Process, colours: Palette): { group: Group; show: (time: number) => void } {
  const group = new Group();
  const strong: { line: Line; hand: string }[] = [];
  const step = Math.max(0.04, process.makespan / 1500);
  const count = Math.ceil(process.makespan / step);
  [...process.arms].forEach(([hand, arm], i) => {
    const points: Vector3[] = [];
    for (let k = 0; k <= count; k += 1) points.push(origin(arm.grip(arm.links(process.joints(hand, k * step)))));
    const colour = colours.hands[i] ?? colours.arm;
    const faint = new LineBasicMaterial({ color: colour, transparent: true, opacity: 0.4 });
    const now = new Line(new BufferGeometry().setFromPoints(points), new LineBasicMaterial({ color: colours.touch }));
    group.add(new Line(now.geometry.clone(), faint), now);
    strong.push({ line: now, hand });
  });
  const show = (time: number): void => {
    const going = process.elementsAt(time);
    for (const { line, hand } of strong) {
      const own = going.find((e) => e.hand === hand);
      const from = own ? Math.floor(own.start_s / step) : 0;
      line.geometry.setDrawRange(from, own ? Math.ceil(own.duration_s / step) + 2 : 0);
    }
  };
  return { group, show };
}

/** The three-sigma ellipsoid of the moving feature's place, at that feature. */
export class EstimateMark {
  readonly mesh: Mesh;

  constructor(colours: Palette) {
    // Over everything: a small one would lie inside the part.
    const material = new MeshBasicMaterial({ color: colours.warn, transparent: true, opacity: 0.45, depthWrite: false, depthTest: false });
    this.mesh = new Mesh(new SphereGeometry(1, 32, 20), material);
    this.mesh.matrixAutoUpdate = false;
    this.mesh.renderOrder = 2;
    this.mesh.visible = false;
  }

  /** Place it; what is told of it, and three sigma along its axes, least first [m]. */
  place(process: Process, row: MateRow, moment: Moment, time: number): { words: string; three: number[] } | null {
    const ledger = process.sheet.ledger;
    const pair = featuresOf(process, row.mate, moment)[0];
    this.mesh.visible = ledger !== null && pair !== undefined;
    if (!ledger || !pair) return null;
    const stage = stageAt(process, ledger, row, time);
    const axes = principal(stage.covariance);
    const { at, turned: from } = this.seat(stage, pair, moment);
    const sizes = axes.map((a) => Math.max(2e-4, 3 * Math.sqrt(a.variance) * MAGNIFIED));
    const turned = new Matrix4().makeBasis(...(axes.map((a) => new Vector3(...a.axis)) as [Vector3, Vector3, Vector3]));
    const place = new Matrix4().compose(at, new Quaternion().setFromRotationMatrix(from), new Vector3(1, 1, 1));
    this.mesh.matrix.copy(place.multiply(turned).scale(new Vector3(...(sizes as [number, number, number]))));
    this.mesh.matrixWorldNeedsUpdate = true;
    return { words: stage.words, three: axes.map((a) => 3 * Math.sqrt(a.variance)).sort((a, b) => a - b) };
  }

  /** Where its middle is and how its axes lie: in the hand, at the item, with the jaws; else at the moving feature, with the
   * fixed one. */
  private seat(stage: Stage, pair: { moving: Place; fixed: Place }, moment: Moment): { at: Vector3; turned: Matrix4 } {
    const grasp = stage.grasp?.grasp;
    const T_item = grasp && moment.items.get(grasp.item);
    if (!grasp || !T_item) return { at: origin(pair.moving.T), turned: pair.fixed.T };
    const own = pair.moving.name.startsWith(`${grasp.item}.`) ? pair.moving.T : T_item;
    return { at: origin(own), turned: T_item.clone().multiply(poseMatrix(grasp.T_grip_part).invert()) };
  }
}
