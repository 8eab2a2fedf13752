// The bodies of the cell as three.js objects, placed by the moment.
import {
  type BufferGeometry, type Color, DoubleSide, EdgesGeometry, Group, LineBasicMaterial, LineSegments, type Material,
  type Matrix4, Mesh, MeshLambertMaterial, type Plane,
} from "three";
import { GLTFLoader } from "three/examples/jsm/loaders/GLTFLoader.js";
import type { Moment } from "../process/process.ts";
import { creased } from "./creased.ts";
import { sectionFill } from "./hatch.ts";
import type { Palette } from "./palette.ts";

const CREASE = (32 * Math.PI) / 180;
/** Bodies with more triangles are drawn without their edges: finding those takes too long. */
const EDGED_UP_TO = 60_000;

export interface Body {
  name: string;
  role: string;
  group: Group;
  materials: MeshLambertMaterial[];
  edge: LineBasicMaterial;
  fill: Mesh | null;
}

export type Geometries = Map<string, BufferGeometry>;

/** Geometries by body name, each in its own frame. */
export async function readBodies(glb: ArrayBuffer): Promise<Geometries> {
  const found: Geometries = new Map();
  const scene = (await new GLTFLoader().parseAsync(glb, "")).scene;
  scene.traverse((node) => {
    if (node instanceof Mesh) found.set(String(node.userData.name ?? node.name), creased(node.geometry as BufferGeometry, CREASE));
  });
  return found;
}

export class Bodies {
  readonly root = new Group();
  readonly all: Body[] = [];
  private readonly edges: LineBasicMaterial[] = [];
  /** What is left out of the first picture: edges of bodies, which take longer to find than all else. */
  private left: (() => void)[] = [];

  constructor(geometries: Geometries, armNames: string[], colours: Palette) {
    let part = 0;
    for (const [name, geometry] of geometries) {
      const role = name.slice(0, name.indexOf(":"));
      const colour = this.colour(name, role, armNames, colours, role === "part" ? part++ : 0);
      const copies = role === "arm" && name.endsWith(":finger") ? [`${name}:-1`, `${name}:1`] : [name];
      for (const copy of copies) this.add(copy, role, geometry, colour, colours);
    }
  }

  /** Put everything where it is at that moment. */
  place(moment: Moment, fingers: Map<string, number>): void {
    for (const body of this.all) {
      const T = poseOf(body, moment);
      if (T) body.group.matrix.copy(T);
      const [, arm = "", kind, side] = body.name.split(":");
      if (body.role === "arm" && kind === "finger") {
        const away = (moment.widths.get(arm) ?? 0) / 2 + (fingers.get(arm) ?? 0) / 2;
        body.group.matrix.multiply(shifted(body.group, Number(side) * away));
      }
      body.group.matrixWorldNeedsUpdate = true;
    }
  }

  /** Cut parts and tools by a plane, except for one body that drawings show whole; null: cut nothing. */
  cut(plane: Plane | null, whole: string | null): void {
    for (const body of this.all) {
      const applies = plane !== null && body.role !== "arm" && body.name !== whole && body.role !== "obstacle";
      for (const material of body.materials) material.clippingPlanes = applies ? [plane] : null;
      body.edge.clippingPlanes = applies ? [plane] : null;
      if (body.fill) {
        body.fill.visible = applies;
        (body.fill.material as Material).clippingPlanes = applies ? [plane] : null;
      }
    }
  }

  /** Draw what was left out, for so long at most [ms]; whether anything is still left. */
  finish(most = Infinity): boolean {
    const until = performance.now() + most;
    while (this.left.length && performance.now() < until) this.left.shift()?.();
    return this.left.length > 0;
  }

  paint(colours: Palette, armNames: string[]): void {
    let part = 0;
    for (const body of this.all) {
      const colour = this.colour(body.name, body.role, armNames, colours, body.role === "part" ? part++ : 0);
      for (const material of body.materials) material.color.copy(colour);
    }
    for (const edge of this.edges) edge.color.copy(colours.ink);
  }

  private colour(name: string, role: string, armNames: string[], colours: Palette, part: number): Color {
    const arm = name.split(":")[1] ?? "";
    if (role === "arm" && name.includes(":link:")) return colours.hands[armNames.indexOf(arm)] ?? colours.arm;
    if (role === "part") return colours.parts[part % colours.parts.length] ?? colours.arm;
    return { arm: colours.arm, tool: colours.tool, holder: colours.holder, obstacle: colours.obstacle }[role] ?? colours.arm;
  }

  private add(name: string, role: string, geometry: BufferGeometry, colour: Color, colours: Palette): void {
    const faint = role === "obstacle";
    const surface = new MeshLambertMaterial({
      color: colour, side: DoubleSide, transparent: faint, opacity: faint ? 0.28 : 1, depthWrite: !faint,
      polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1,
    });
    const group = new Group();
    group.matrixAutoUpdate = false;
    group.add(new Mesh(geometry, surface));
    const triangles = (geometry.getAttribute("position")?.count ?? 0) / 3;
    const line = new LineBasicMaterial({ color: colours.ink, transparent: true, opacity: faint ? 0.25 : 0.75 });
    this.edges.push(line);
    if (triangles <= EDGED_UP_TO) this.left.push(() => group.add(new LineSegments(edgesOf(geometry), line)));
    const fill = role === "arm" || faint ? null : sectionFill(geometry, this.all.length, colour, colours.ink);
    if (fill) group.add(fill);
    this.root.add(group);
    this.all.push({ name, role, group, materials: [surface], edge: line, fill });
  }
}

const found = new WeakMap<BufferGeometry, EdgesGeometry>();

/** Once for both fingers, and for the pictures of holders and parts. */
function edgesOf(geometry: BufferGeometry): EdgesGeometry {
  const known = found.get(geometry) ?? new EdgesGeometry(geometry, 32);
  found.set(geometry, known);
  return known;
}

function shifted(group: Group, y: number): Matrix4 {
  return group.matrix.clone().makeTranslation(0, y, 0);
}

function poseOf(body: Body, moment: Moment): Matrix4 | undefined {
  const [, name = "", kind, index] = body.name.split(":");
  if (body.role === "part" || body.role === "tool") return moment.items.get(body.name.slice(body.role.length + 1));
  if (body.role !== "arm") return undefined;
  return kind === "link" ? moment.links.get(name)?.[Number(index) + 1] : moment.hands.get(name);
}
