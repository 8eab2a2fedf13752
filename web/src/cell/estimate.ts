// How sure the pose of the held part is: the covariance that the ledger gives, as it stands at a time.
import type { Element, Ledger, MateRow } from "../generated/sheet.ts";
import type { Process } from "../process/process.ts";

export type Three = number[][];

/** Covariance of the position (3, 3) [m2] in the fixed feature's frame: what each touch has shown is taken off. */
export function covarianceAt(process: Process, ledger: Ledger, row: MateRow, time: number): Three {
  const before = corner(row.before.covariance);
  const touched = row.touches.filter((id) => ended(process, id, time));
  if (row.touches.length > 0 && touched.length === row.touches.length) return corner(row.after.covariance);
  let now = before;
  for (const update of ledger.updates.filter((u) => u.mate === row.mate && touched.includes(u.element))) {
    const g = update.gain.slice(0, 3);
    now = now.map((line, i) => line.map((v, j) => v - (g[i] ?? 0) * (g[j] ?? 0) * update.sigma_reading ** 2));
  }
  return now;
}

/** Where one part is thought to be, as one follows it: in the hand before and after jaws close, then against what it
 * goes to. grasp: by whose jaws it is told; null: against the fixed feature. */
export interface Stage {
  grasp: Element | null;
  covariance: Three;
  words: string;
}

/** At a time of the chart: in the hand until the mate's first touch after its last grasp, or until the part is brought to
 * the mouth, then as the ledger has it against the fixed feature. While jaws close it goes from one to the other. */
export function stageAt(process: Process, ledger: Ledger, row: MateRow, time: number): Stage {
  const grasps = row.jaws.flatMap((closed) => {
    const element = process.elements.find((e) => e.id === closed.element);
    return element?.grasp && closed.before.length && closed.after.length ? [{ closed, element }] : [];
  }).sort((a, b) => a.element.start_s - b.element.start_s);
  const last = grasps[grasps.length - 1];
  const end = (e: Element): number => e.start_s + e.duration_s;
  if (!last || time >= againstFrom(process, row, end(last.element))) {
    const touched = row.touches.filter((id) => ended(process, id, time)).length;
    const words = row.touches.length ? `${row.mate}, against what it goes to, after ${touched} of ${row.touches.length} touches` : `${row.mate}, against what it goes to`;
    return { grasp: null, covariance: covarianceAt(process, ledger, row, time), words };
  }
  const { closed, element } = grasps.filter((g) => g.element.start_s <= time).pop() ?? grasps[0]!;
  const share = Math.min(1, Math.max(0, (time - element.start_s) / Math.max(1e-9, element.duration_s)));
  const [before, after] = [corner(closed.before), corner(closed.after)];
  const covariance = before.map((line, i) => line.map((v, j) => v + share * ((after[i]?.[j] ?? 0) - v)));
  const how = share === 0 ? "before its jaws close" : share < 1 ? "while its jaws close" : "held";
  return { grasp: element, covariance, words: `${closed.item} in the ${element.hand} hand, ${how}` };
}

/** When the part is no longer looked at in the hand but against what it goes to [s]. held: since when it is held. */
function againstFrom(process: Process, row: MateRow, held: number): number {
  const own = process.elements.filter((e) => e.start_s >= held - 1e-9);
  const touches = own.filter((e) => row.touches.includes(e.id)).map((e) => e.start_s);
  if (touches.length) return Math.min(...touches);
  const mouth = own.filter((e) => e.mate === row.mate && (e.kind === "position" || e.kind === "assemble" || e.kind === "use") && e.target.startsWith("part."));
  return Math.min(...mouth.map((e) => e.start_s), ...own.filter((e) => e.id === row.element).map((e) => e.start_s));
}

function ended(process: Process, id: string, time: number): boolean {
  const element = process.elements.find((e) => e.id === id);
  return element !== undefined && time >= element.start_s + element.duration_s - 1e-9;
}

function corner(covariance: number[][]): Three {
  return [0, 1, 2].map((i) => [0, 1, 2].map((j) => covariance[i]?.[j] ?? 0));
}

/** Axes of the ellipsoid: [variance, unit vector] each. Jacobi's method for a symmetric (3, 3) matrix. */
export function principal(matrix: Three): { variance: number; axis: [number, number, number] }[] {
  const a = matrix.map((row) => [...row]);
  const v = [[1, 0, 0], [0, 1, 0], [0, 0, 1]];
  const at = (m: Three, i: number, j: number): number => m[i]?.[j] ?? 0;
  for (let sweep = 0; sweep < 24; sweep += 1) {
    for (const [p, q] of [[0, 1], [0, 2], [1, 2]] as const) {
      if (Math.abs(at(a, p, q)) < 1e-30) continue;
      const theta = (at(a, q, q) - at(a, p, p)) / (2 * at(a, p, q));
      const t = Math.sign(theta || 1) / (Math.abs(theta) + Math.hypot(theta, 1));
      const c = 1 / Math.hypot(t, 1);
      turn(a, p, q, c, t * c, true);
      turn(v, p, q, c, t * c, false);
    }
  }
  return [0, 1, 2].map((i) => ({ variance: Math.max(0, at(a, i, i)), axis: [at(v, 0, i), at(v, 1, i), at(v, 2, i)] }));
}

/** Columns p and q turned by the angle with cosine c and sine s; rows as well, where it is both. */
function turn(m: Three, p: number, q: number, c: number, s: number, both: boolean): void {
  for (const row of m) {
    const [x = 0, y = 0] = [row[p], row[q]];
    row[p] = c * x - s * y;
    row[q] = s * x + c * y;
  }
  const [one, other] = [m[p], m[q]];
  if (!both || !one || !other) return;
  for (let k = 0; k < 3; k += 1) {
    const [x = 0, y = 0] = [one[k], other[k]];
    one[k] = c * x - s * y;
    other[k] = s * x + c * y;
  }
}
