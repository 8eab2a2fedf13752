// A fit, drawn with its clearance to scale and magnified: the bore's mouth with its chamfer, the tip of the shaft
// over it, and how far off the shaft may be and will be.
import { s } from "../dom.ts";
import type { Feature, MateRow, Sheet } from "../generated/sheet.ts";
import { micrometres } from "../words.ts";

const WIDTH = 300;
const HEIGHT = 132;
const BELOW = 18; // for the words under it
const MIDDLE = WIDTH / 2;

interface Fitted {
  hole: Feature;
  shaft: Feature;
}

/** null for a mate without a round pair. Lateral lengths from the wall are all to one scale, which is written. */
export function fitDrawing(sheet: Sheet, row: MateRow): SVGSVGElement | null {
  const fitted = roundPair(sheet, row.mate);
  if (!fitted || row.clearance_max <= 0) return null;
  const chamfer = Math.max(fitted.hole.chamfer?.width ?? 0, fitted.shaft.chamfer?.width ?? 0);
  const reach = Math.max(row.allowed, 3 * row.after.sigma_major, row.clearance_max, 1e-6) * 1.25;
  const scale = (MIDDLE - 60) / reach; // px per metre
  const gap = Math.max(0.7, (row.clearance_min + row.clearance_max) * 0.25 * scale);
  const shaft = 34; // half the shaft as drawn: cut short, as its diameter is not what matters
  const wall = shaft + gap;
  const lead = Math.min(chamfer * scale, MIDDLE - wall - 8);
  const power = 10 ** Math.floor(Math.log10(scale / 3779.5));
  const times = Math.round(scale / 3779.5 / power) * power;
  const words = `Bore ${mm(fitted.hole.diameter)}, clearance ${micrometres(row.clearance_min)} to ${micrometres(row.clearance_max)}, allowed ${micrometres(row.allowed)}, three sigma ${micrometres(3 * row.after.sigma_major)}`;
  const side = (sign: number): SVGElement => {
    const x = (v: number): number => MIDDLE + sign * v;
    const path = `M${x(wall)} ${HEIGHT}V${78 + Math.min(lead, 24)}L${x(wall + lead)} 78H${x(MIDDLE)}V${HEIGHT}Z`;
    return s("path", { class: "material", d: path });
  };
  const at = (v: number): [number, number] => [MIDDLE - v * scale, MIDDLE + v * scale];
  return s(
    "svg", { class: "fit", viewBox: `0 0 ${WIDTH} ${HEIGHT + BELOW}`, role: "img", "aria-label": words },
    s("defs", {}, s("pattern", { id: "cut", width: 6, height: 6, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" }, s("line", { class: "hatch", x1: 0, y1: 0, x2: 0, y2: 6 }))),
    side(1), side(-1),
    s("path", { class: "shaft", d: `M${MIDDLE - shaft} 44V66l4 6H${MIDDLE + shaft - 4}l4-6V44` }),
    s("path", { class: "axis", d: `M${MIDDLE} 42V${HEIGHT}` }),
    zone("allowed", at(row.allowed), 16, `allowed ± ${micrometres(row.allowed)}`),
    zone("spread", at(3 * row.after.sigma_major), 35, `3σ ± ${micrometres(3 * row.after.sigma_major)}`),
    s("text", { class: "tick", x: MIDDLE, y: HEIGHT + BELOW - 5, "text-anchor": "middle" }, `about ${times}:1 across, gap ${micrometres((row.clearance_min + row.clearance_max) / 4)} a side`),
  );
}

/** An extent about the axis, with its name over it. */
function zone(kind: string, [low, high]: [number, number], y: number, text: string): SVGElement {
  const label = s("text", { class: "tick", x: MIDDLE, y: y - 4, "text-anchor": "middle" }, text);
  return s("g", { class: kind }, s("path", { d: `M${low} ${y}H${high}M${low} ${y - 4}v8M${high} ${y - 4}v8` }), label);
}

function roundPair(sheet: Sheet, name: string): Fitted | null {
  const product = sheet.project?.product;
  const mate = product?.mates.find((m) => m.name === name);
  const pair = mate?.pairs[0];
  const moving = product?.parts.find((p) => p.name === mate?.part)?.features.find((f) => f.name === pair?.moving);
  const fixed = product?.parts.find((p) => p.name === pair?.fixed_part)?.features.find((f) => f.name === pair?.fixed);
  if (!moving?.diameter || !fixed?.diameter) return null;
  if (fixed.kind === "hole" && moving.kind === "shaft") return { hole: fixed, shaft: moving };
  return moving.kind === "hole" && fixed.kind === "shaft" ? { hole: moving, shaft: fixed } : null;
}

function mm(value: number | null): string {
  return `${((value ?? 0) * 1e3).toFixed(0)} mm`;
}
