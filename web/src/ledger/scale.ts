// A probability scale: the predicted band, and beside it what simulated builds observed.
import { s } from "../dom.ts";
import type { Band, MateAgreement } from "../generated/sheet.ts";
import { chance, percent } from "../words.ts";

const WIDTH = 300;
const LEFT = 6;

export interface Observed {
  touched: boolean;
  agreement: MateAgreement;
}

/** A drawing with its reading in words. */
export function probabilityScale(predicted: Band, target: number, observed: Observed[]): SVGSVGElement {
  const least = Math.min(predicted.low, target, ...observed.map((o) => o.agreement.observed[0]));
  const start = least > 0.98 ? 0.98 : least > 0.9 ? 0.9 : least > 0.5 ? 0.5 : 0;
  const x = (p: number): number => LEFT + ((WIDTH - 2 * LEFT - 10) * (Math.max(start, p) - start)) / (1 - start);
  const height = 32 + 13 * observed.length;
  const ticks = [0, 0.2, 0.4, 0.6, 0.8, 1].map((share) => start + share * (1 - start));
  const words = [`Predicted ${chance(predicted)}, wanted ${percent(target)} %`, ...observed.map(inWords)].join("; ");
  return s(
    "svg", { class: "scale", viewBox: `0 0 ${WIDTH} ${height}`, role: "img", "aria-label": words },
    ...ticks.map((p, i) => s("line", { class: "grid", x1: x(p), x2: x(p), y1: 12, y2: height, "stroke-dasharray": i % 5 ? "1 2" : null })),
    ...ticks.filter((_, i) => i % 5 === 0 || start === 0).map((p) => s("text", { class: "tick", x: x(p), y: 9, "text-anchor": p === 1 ? "end" : p === start ? "start" : "middle" }, `${Number((100 * p).toFixed(1))} %`)),
    s("rect", { class: "predicted", x: x(predicted.low) - 1.5, y: 15, width: x(predicted.high) - x(predicted.low) + 3, height: 11 }),
    s("path", { class: "target", d: `M${x(target)} 12V${height}` }),
    ...observed.map((o, i) => whisker(o, x, 35 + 13 * i)),
  );
}

function whisker({ agreement, touched }: Observed, x: (p: number) => number, y: number): SVGElement {
  const [low = 0, high = 1] = agreement.observed;
  const rate = agreement.tried ? agreement.succeeded / agreement.tried : 0;
  return s(
    "g", { class: touched ? "observed" : "observed untouched" },
    s("path", { d: `M${x(low)} ${y}H${x(high)}M${x(low)} ${y - 4}v8M${x(high)} ${y - 4}v8` }),
    s("circle", { cx: x(rate), cy: y, r: 3 }),
  );
}

export function inWords({ agreement, touched }: Observed): string {
  const [low = 0, high = 1] = agreement.observed;
  const verdict = !agreement.tried ? "never reached" : agreement.agrees ? "agrees" : "DISAGREES";
  return `tried ${touched ? "with" : "without"} touches: ${agreement.succeeded} of ${agreement.tried} went in (${percent(low)} to ${percent(high)} %), ${verdict}`;
}
