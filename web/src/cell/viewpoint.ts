// Where one looks from: parallel projection, as drawings have it.
import { type BufferGeometry, Mesh, type Object3D, OrthographicCamera, Vector3 } from "three";
import { OrbitControls } from "three/examples/jsm/controls/OrbitControls.js";

export interface View {
  target: Vector3;
  /** From the target to the viewer. */
  direction: Vector3;
  /** Width of what is seen [m]. */
  width: number;
}

const FAR = 6;
const MOST_CORNERS = 3000;
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

  /** So that these objects fill the picture, seen from there: by their corners as they are, not by boxes around them. */
  fit(objects: Object3D[], direction: Vector3, margin = 1.06): View {
    const side = new Vector3(0, 0, 1).cross(direction).normalize();
    const up = direction.clone().cross(side);
    const [low, high] = [new Vector3(1, 1, 1).multiplyScalar(1e9), new Vector3(1, 1, 1).multiplyScalar(-1e9)];
    const corner = new Vector3();
    for (const object of objects)
      object.traverse((node) => {
        if (!(node instanceof Mesh)) return;
        node.updateWorldMatrix(true, false);
        const position = (node.geometry as BufferGeometry).getAttribute("position");
        const stride = Math.max(1, Math.floor((position?.count ?? 0) / MOST_CORNERS));
        for (let k = 0; k < (position?.count ?? 0); k += stride) {
          corner.fromBufferAttribute(position!, k).applyMatrix4(node.matrixWorld);
          const seen = new Vector3(corner.dot(side), corner.dot(up), corner.dot(direction));
          low.min(seen);
          high.max(seen);
        }
      });
    if (low.x > high.x) return { target: new Vector3(), direction: direction.clone(), width: 1 };
    const middle = low.clone().add(high).multiplyScalar(0.5);
    const target = side.clone().multiplyScalar(middle.x).addScaledVector(up, middle.y).addScaledVector(direction, middle.z);
    const width = Math.max(high.x - low.x, (high.y - low.y) * this.aspect) * margin;
    return { target, direction: direction.clone(), width };
  }

  private frame(width: number): void {
    this.camera.left = -width / 2;
    this.camera.right = width / 2;
    this.camera.top = width / 2 / this.aspect;
    this.camera.bottom = -width / 2 / this.aspect;
    this.camera.updateProjectionMatrix();
  }
}
