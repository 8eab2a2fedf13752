// The 3-D picture itself: renderer, light, bodies. Drawn only when something has changed.
import { AmbientLight, Box3, DirectionalLight, type Object3D, Plane, Scene, Vector3, WebGLRenderer } from "three";
import type { Moment, Process } from "../process/process.ts";
import { Bodies, type Geometries } from "./bodies.ts";
import { type Palette, palette } from "./palette.ts";
import { Viewpoint } from "./viewpoint.ts";

export class Picture {
  readonly canvas = document.createElement("canvas");
  readonly scene = new Scene();
  readonly viewpoint: Viewpoint;
  colours: Palette = palette();
  bodies: Bodies;
  /** Called after each drawing, for what lies over the picture. */
  drawn: () => void = () => undefined;
  private readonly renderer: WebGLRenderer;
  private readonly sun = new DirectionalLight(0xffffff, 1.9);
  private wanted = false;
  private finishing = false;

  constructor(geometries: Geometries, process: Process) {
    this.renderer = new WebGLRenderer({ canvas: this.canvas, antialias: true, alpha: false, preserveDrawingBuffer: false });
    this.renderer.localClippingEnabled = true;
    this.viewpoint = new Viewpoint(this.canvas, () => this.redraw());
    this.scene.add(new AmbientLight(0xffffff, 1.7), this.sun, this.sun.target);
    this.bodies = new Bodies(geometries, armNames(process), this.colours);
    this.scene.add(this.bodies.root);
    this.scene.background = this.colours.paper;
  }

  /** Other geometry, the same view. */
  replace(geometries: Geometries, process: Process): void {
    this.scene.remove(this.bodies.root);
    this.bodies = new Bodies(geometries, armNames(process), this.colours);
    this.scene.add(this.bodies.root);
    this.redraw();
  }

  repaint(process: Process): void {
    this.colours = palette();
    this.scene.background = this.colours.paper;
    this.bodies.paint(this.colours, armNames(process));
    this.redraw();
  }

  resize(width: number, height: number): void {
    if (width < 2 || height < 2) return;
    this.renderer.setPixelRatio(Math.min(2, window.devicePixelRatio || 1));
    this.renderer.setSize(width, height, false);
    this.viewpoint.resize(width, height);
    this.redraw();
  }

  place(moment: Moment, process: Process): void {
    this.bodies.place(moment, new Map(process.sheet.arms.map((a) => [a.name, a.finger])));
    this.redraw();
  }

  redraw(): void {
    if (this.wanted) return;
    this.wanted = true;
    requestAnimationFrame(() => {
      this.wanted = false;
      this.draw();
      if (this.bodies.finish(0)) this.later();
    });
  }

  /** What the first picture went without, a little at a time, so that the page stays quick. */
  private later(): void {
    if (this.finishing) return;
    this.finishing = true;
    setTimeout(() => {
      this.finishing = false;
      if (this.bodies.finish(30)) this.later();
      else this.redraw();
    }, 0);
  }

  /** What one looks at as a whole: all but the table and what stands around. */
  worked(): Object3D[] {
    return this.bodies.all.filter((b) => b.role !== "obstacle").map((b) => b.group);
  }

  holder(name: string): Object3D[] {
    return this.bodies.all.filter((b) => b.name === `holder:${name}`).map((b) => b.group);
  }

  sizeOf(name: string): number {
    const body = this.bodies.all.find((b) => b.name === name);
    return body ? new Box3().setFromObject(body.group).getSize(new Vector3()).length() : 0.05;
  }

  /** Cut by the plane through a point, facing the viewer; null: cut nothing. */
  cut(at: { point: Vector3; normal: Vector3; whole: string | null } | null): void {
    const plane = at && new Plane().setFromNormalAndCoplanarPoint(at.normal.clone().negate(), at.point);
    this.bodies.cut(plane, at?.whole ?? null);
    this.redraw();
  }

  drawNow(): void {
    this.bodies.finish();
    this.viewpoint.camera.updateMatrixWorld();
    this.draw();
  }

  /** Of the last drawing: calls and triangles. */
  cost(): { calls: number; triangles: number } {
    const { calls, triangles } = this.renderer.info.render;
    return { calls, triangles };
  }

  dispose(): void {
    this.renderer.dispose();
    this.renderer.forceContextLoss();
  }

  private draw(): void {
    // Light from the upper left, over the viewer's shoulder: how drawings are lit by custom.
    const camera = this.viewpoint.camera;
    const right = new Vector3().setFromMatrixColumn(camera.matrixWorld, 0);
    const up = new Vector3().setFromMatrixColumn(camera.matrixWorld, 1);
    this.sun.target.position.copy(this.viewpoint.controls.target);
    const view = this.viewpoint.now().direction;
    this.sun.position.copy(this.sun.target.position).addScaledVector(right, -0.6).addScaledVector(up, 0.9).addScaledVector(view, 0.8);
    this.renderer.render(this.scene, camera);
    this.drawn();
  }
}

function armNames(process: Process): string[] {
  return process.chart?.hands ?? process.sheet.arms.map((a) => a.name);
}
