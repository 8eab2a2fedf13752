// Poses as three.js matrices (double precision, column-major inside; rows here).
import { Matrix4, Quaternion, Vector3 } from "three";
import type { Pose } from "../generated/sheet.ts";

const ONE = new Vector3(1, 1, 1);

/** T from position [m] and quaternion (w, x, y, z). */
export function poseMatrix(pose: Pose): Matrix4 {
  const [w, x, y, z] = pose.quaternion;
  return new Matrix4().compose(new Vector3(...pose.position), new Quaternion(x, y, z, w), ONE);
}

/** T from its rows, (4, 4). */
export function rowsMatrix(rows: number[][]): Matrix4 {
  const [a = [], b = [], c = [], d = []] = rows;
  return new Matrix4().set(...([...a, ...b, ...c, ...d] as Parameters<Matrix4["set"]>));
}

export function times(...chain: Matrix4[]): Matrix4 {
  const product = new Matrix4();
  for (const T of chain) product.multiply(T);
  return product;
}

export function origin(T: Matrix4): Vector3 {
  return new Vector3().setFromMatrixPosition(T);
}

/** Column 0, 1 or 2 of the rotation. */
export function axisOf(T: Matrix4, column: 0 | 1 | 2): Vector3 {
  return new Vector3().setFromMatrixColumn(T, column);
}
