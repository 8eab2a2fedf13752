// A still picture of one holder as it is before the first element.
import { Vector3 } from "three";
import type { Process } from "../process/process.ts";
import type { Geometries } from "./bodies.ts";
import { Picture } from "./picture.ts";

const WIDTH = 460;
const HEIGHT = 300;
const FROM = new Vector3(-0.15, -0.55, 1).normalize();
let kept: { geometries: Geometries; picture: Picture } | null = null;

export function holderPicture(process: Process, geometries: Geometries, holder: string): HTMLCanvasElement {
  if (kept?.geometries !== geometries) {
    kept?.picture.dispose();
    kept = { geometries, picture: new Picture(geometries, process) };
  }
  const { picture } = kept;
  picture.viewpoint.controls.enabled = false;
  picture.place(process.at(0), process);
  for (const body of picture.bodies.all) body.group.visible = body.role !== "arm" && body.role !== "obstacle";
  picture.resize(WIDTH, HEIGHT);
  picture.viewpoint.look(picture.viewpoint.fit(picture.holder(holder), FROM, 1.3));
  picture.drawNow();
  const copy = document.createElement("canvas");
  copy.width = picture.canvas.width;
  copy.height = picture.canvas.height;
  copy.setAttribute("role", "img");
  copy.setAttribute("aria-label", `${holder}, loaded`);
  copy.getContext("2d")?.drawImage(picture.canvas, 0, 0);
  return copy;
}
