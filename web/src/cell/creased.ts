// Shading normals: smooth over what is round, sharp over edges.
import { BufferAttribute, BufferGeometry } from "three";

/** A geometry without index whose normals are the mean, by area, of those faces around a corner that lean less than
 * `crease` [rad] from its own face. Corners are one where the index says so. */
export function creased(geometry: BufferGeometry, crease: number): BufferGeometry {
  const position = geometry.getAttribute("position");
  const index = geometry.getIndex();
  const count = index?.count ?? position.count;
  const at = (corner: number): number => (index ? index.getX(corner) : corner);
  const positions = new Float32Array(3 * count);
  for (let c = 0; c < count; c += 1) {
    const v = at(c);
    positions[3 * c] = position.getX(v);
    positions[3 * c + 1] = position.getY(v);
    positions[3 * c + 2] = position.getZ(v);
  }
  const faces = faceNormals(positions);
  const around: number[][] = Array.from({ length: position.count }, () => []);
  for (let c = 0; c < count; c += 1) around[at(c)]?.push(Math.floor(c / 3));
  const normals = new Float32Array(3 * count);
  const least = Math.cos(crease);
  for (let c = 0; c < count; c += 1) sum(normals, 3 * c, faces, Math.floor(c / 3), around[at(c)] ?? [], least);
  const made = new BufferGeometry();
  made.setAttribute("position", new BufferAttribute(positions, 3));
  made.setAttribute("normal", new BufferAttribute(normals, 3));
  return made;
}

/** x, y, z of the unit normal and twice the area, face by face. */
function faceNormals(p: Float32Array): Float32Array {
  const found = new Float32Array((4 * p.length) / 9);
  for (let f = 0; f < p.length / 9; f += 1) {
    const [ax, ay, az, bx, by, bz, cx, cy, cz] = p.subarray(9 * f, 9 * f + 9) as unknown as [number, number, number, number, number, number, number, number, number];
    const [ux, uy, uz, vx, vy, vz] = [bx - ax, by - ay, bz - az, cx - ax, cy - ay, cz - az];
    const [x, y, z] = [uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx];
    const area = Math.hypot(x, y, z);
    const scale = area > 0 ? 1 / area : 0;
    found.set([x * scale, y * scale, z * scale, area], 4 * f);
  }
  return found;
}

function sum(into: Float32Array, where: number, faces: Float32Array, own: number, around: number[], least: number): void {
  const n = (face: number, k: number): number => faces[4 * face + k] ?? 0;
  let [x, y, z] = [0, 0, 0];
  for (const face of around) {
    if (n(face, 0) * n(own, 0) + n(face, 1) * n(own, 1) + n(face, 2) * n(own, 2) < least) continue;
    x += n(face, 0) * n(face, 3);
    y += n(face, 1) * n(face, 3);
    z += n(face, 2) * n(face, 3);
  }
  const length = Math.hypot(x, y, z);
  into.set(length > 0 ? [x / length, y / length, z / length] : [n(own, 0), n(own, 1), n(own, 2)], where);
}
