// Forward kinematics of the arms, from the joints that the sheet carries.
import { Matrix4, Vector3 } from "three";
import type { ArmDrawn } from "../generated/sheet.ts";
import { rowsMatrix } from "./pose.ts";

export class Kinematics {
  readonly arm: ArmDrawn;
  private readonly base: Matrix4;
  private readonly tip: Matrix4;
  private readonly mount: Matrix4;
  private readonly joints: { placement: Matrix4; axis: Vector3 }[];

  constructor(arm: ArmDrawn) {
    this.arm = arm;
    this.base = rowsMatrix(arm.base);
    this.tip = rowsMatrix(arm.tip);
    this.mount = rowsMatrix(arm.mount);
    this.joints = arm.joints.map((j) => ({ placement: rowsMatrix(j.placement), axis: new Vector3(...j.axis) }));
  }

  /** T_world_link of q [rad]: the root first (link -1), each link that a joint moves, the tip last. */
  links(q: readonly number[]): Matrix4[] {
    const found = [this.base.clone()];
    let T = this.base;
    this.joints.forEach((joint, i) => {
      T = T.clone().multiply(joint.placement).multiply(new Matrix4().makeRotationAxis(joint.axis, q[i] ?? 0));
      found.push(T);
    });
    found.push(T.clone().multiply(this.tip));
    return found;
  }

  /** T_world_grip of the same. */
  grip(links: Matrix4[]): Matrix4 {
    const tip = links[links.length - 1] ?? this.base;
    return tip.clone().multiply(this.mount);
  }
}
