// Where one looks from: parallel projection, as drawings have it.
import { Box3, OrthographicCamera, type Object3D, Vector3 } from "three";
import { OrbitControls } from "three/examples/jsm/controls/OrbitControls.js";

export interface View {
  target: Vector3;
  /** From the target to the viewer. */
  direction: Vector3;
  /** Width of what is seen [m]. */
  width: number;
}

const FAR = 6;
export const FRONT = new Vector3(Math.sin(0.2) * -1, -Math.cos(0.2), Math.tan(0.7)).normalize();

export class Viewpoint {
  readonly camera = new OrthographicCamera(-1, 1, 1, -1, 0.01, 2 * FAR);
  readonly controls: OrbitControls;
  private aspect = 1;

  constructor(canvas: HTMLCanvasElement, changed: () => void) {
    this.camera.up.set(0, 0, 1);
    this.controls = new OrbitControls(this.camera, canvas);
    this.controls.enableDamping = false;
    this.controls.addEventListener("change", changed);
  }

  resize(width: number, height: number): void {
    this.aspect = width / Math.max(1, height);
    const half = (this.camera.right - this.camera.left) / 2;
    this.frame(half * 2);
  }

  look(view: View): void {
    this.controls.target.copy(view.target);
    this.camera.position.copy(view.target).addScaledVector(view.direction, FAR);
    this.camera.zoom = 1;
    this.frame(view.width);
    this.controls.update();
  }

  now(): View {
    const direction = this.camera.position.clone().sub(this.controls.target).normalize();
    return { target: this.controls.target.clone(), direction, width: (this.camera.right - this.camera.left) / this.camera.zoom };
  }

  follow(target: Vector3): void {
    const moved = target.clone().sub(this.controls.target);
    if (moved.lengthSq() < 1e-12) return;
    this.controls.target.add(moved);
    this.camera.position.add(moved);
    this.controls.update();
  }

  turn(azimuth: number, elevation: number): void {
    const view = this.now();
    const flat = Math.hypot(view.direction.x, view.direction.y);
    const a = Math.atan2(view.direction.y, view.direction.x) + azimuth;
    const e = Math.min(1.55, Math.max(-1.55, Math.atan2(view.direction.z, flat) + elevation));
    view.direction.set(Math.cos(e) * Math.cos(a), Math.cos(e) * Math.sin(a), Math.sin(e));
    this.look(view);
  }

  zoom(factor: number): void {
    const view = this.now();
    this.look({ ...view, width: Math.min(6, Math.max(2e-4, view.width * factor)) });
  }

  /** So that these objects fill the picture, seen from there. */
  fit(objects: Object3D[], direction: Vector3, margin = 1.06): View {
    const box = new Box3();
    for (const object of objects) box.expandByObject(object);
    const target = box.getCenter(new Vector3());
    const side = new Vector3(0, 0, 1).cross(direction).normalize();
    const up = direction.clone().cross(side);
    let across = 0;
    let above = 0;
    for (const x of [box.min.x, box.max.x])
      for (const y of [box.min.y, box.max.y])
        for (const z of [box.min.z, box.max.z]) {
          const corner = new Vector3(x, y, z).sub(target);
          across = Math.max(across, Math.abs(corner.dot(side)));
          above = Math.max(above, Math.abs(corner.dot(up)));
        }
    return { target, direction: direction.clone(), width: 2 * Math.max(across, above * this.aspect) * margin };
  }

  private frame(width: number): void {
    this.camera.left = -width / 2;
    this.camera.right = width / 2;
    this.camera.top = width / 2 / this.aspect;
    this.camera.bottom = -width / 2 / this.aspect;
    this.camera.updateProjectionMatrix();
  }
}
