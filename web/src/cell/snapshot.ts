// Still pictures: a holder as it is before the first element, a part with its features.
import { ArrowHelper, Group, Matrix4, Vector3 } from "three";
import type { Part } from "../generated/sheet.ts";
import { origin, poseMatrix } from "../process/pose.ts";
import type { Process } from "../process/process.ts";
import type { Geometries } from "./bodies.ts";
import { Picture } from "./picture.ts";

const WIDTH = 460;
const HEIGHT = 300;
const FROM = new Vector3(-0.15, -0.55, 1).normalize();
const ASLANT = new Vector3(-0.5, -0.75, 0.6).normalize();
let kept: { geometries: Geometries; picture: Picture } | null = null;

export function holderPicture(process: Process, geometries: Geometries, holder: string): HTMLCanvasElement {
  const picture = still(process, geometries);
  const lying = [...process.at(0).attached.values()].filter((a) => a.parent.startsWith(`place.${holder}.`)).map((a) => a.item);
  const shown = [`holder:${holder}`, ...lying.flatMap((item) => [`part:${item}`, `tool:${item}`])];
  for (const body of picture.bodies.all) body.group.visible = shown.includes(body.name);
  const own = picture.bodies.all.filter((b) => b.group.visible).map((b) => b.group);
  picture.viewpoint.look(picture.viewpoint.fit(own, FROM, 1.15));
  picture.drawNow();
  return copied(picture, `${holder}, loaded`);
}

/** A part alone, with an arrow along each feature's z axis and its name. */
export function partPicture(process: Process, geometries: Geometries, part: Part): HTMLCanvasElement {
  const picture = still(process, geometries);
  const own = picture.bodies.all.filter((b) => b.name === `part:${part.name}`);
  for (const body of picture.bodies.all) body.group.visible = own.includes(body);
  const T = process.at(0).items.get(part.name) ?? new Matrix4();
  const size = picture.sizeOf(`part:${part.name}`);
  const marks = new Group();
  const names = part.features.map((f) => {
    const frame = T.clone().multiply(poseMatrix(f.frame));
    const along = new Vector3().setFromMatrixColumn(frame, 2);
    // Where z leads into the material, the arrow ends at the feature; else it begins there.
    const into = f.kind === "hole" || f.kind === "slot" || (f.kind === "thread" && f.internal);
    const from = into ? origin(frame).addScaledVector(along, -0.22 * size) : origin(frame);
    marks.add(new ArrowHelper(along, from, 0.2 * size, picture.colours.touch, 0.05 * size, 0.03 * size));
    return { text: f.name, at: into ? from : from.clone().addScaledVector(along, 0.22 * size) };
  });
  picture.scene.add(marks);
  picture.viewpoint.look(picture.viewpoint.fit(own.map((b) => b.group), ASLANT, 1.7));
  picture.drawNow();
  const canvas = copied(picture, `${part.name}, its features: ${part.features.map((f) => f.name).join(", ")}`);
  picture.scene.remove(marks);
  label(canvas, picture, names);
  return canvas;
}

function still(process: Process, geometries: Geometries): Picture {
  if (kept?.geometries !== geometries) {
    kept?.picture.dispose();
    kept = { geometries, picture: new Picture(geometries, process) };
  }
  const { picture } = kept;
  picture.viewpoint.controls.enabled = false;
  picture.repaint(process);
  picture.place(process.at(0), process);
  picture.resize(WIDTH, HEIGHT);
  return picture;
}

function copied(picture: Picture, words: string): HTMLCanvasElement {
  const copy = document.createElement("canvas");
  copy.width = picture.canvas.width;
  copy.height = picture.canvas.height;
  copy.setAttribute("role", "img");
  copy.setAttribute("aria-label", words);
  copy.getContext("2d")?.drawImage(picture.canvas, 0, 0);
  return copy;
}

/** Names over the picture; those that would lie on each other are put one below the other. */
function label(canvas: HTMLCanvasElement, picture: Picture, names: { text: string; at: Vector3 }[]): void {
  const pen = canvas.getContext("2d");
  if (!pen) return;
  const height = canvas.height / 22;
  pen.font = `${height}px sans-serif`;
  pen.textAlign = "center";
  pen.lineJoin = "round";
  pen.lineWidth = height / 3;
  pen.strokeStyle = `#${picture.colours.paper.getHexString()}`;
  pen.fillStyle = `#${picture.colours.ink.getHexString()}`;
  const set: { x: number; y: number; wide: number }[] = [];
  const places = names.map(({ text, at }) => {
    const p = at.clone().project(picture.viewpoint.camera);
    return { text, x: ((p.x + 1) / 2) * canvas.width, y: ((1 - p.y) / 2) * canvas.height };
  });
  for (const place of places.sort((a, b) => a.y - b.y)) {
    const wide = pen.measureText(place.text).width;
    const x = Math.min(canvas.width - wide / 2 - 2, Math.max(wide / 2 + 2, place.x));
    let y = Math.min(canvas.height - 4, Math.max(height, place.y));
    while (set.some((o) => Math.abs(o.y - y) < height && Math.abs(o.x - x) < (o.wide + wide) / 2)) y += 2;
    set.push({ x, y, wide });
    pen.strokeText(place.text, x, y);
    pen.fillText(place.text, x, y);
  }
}
