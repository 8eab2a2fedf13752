// Elements, places and quantities in a person's words: the same as on the terminal (page/wording.py).
import type { Band, Element } from "./generated/sheet.ts";

const LINK: Record<string, string> = {
  search: "at", reach: "at", grasp: "", move: "to", position: "at", assemble: "into", use: "on", hold: "",
  release: "in", locate: "on", inspect: "at", delay: "",
};

export function placeWords(target: string): string {
  if (target.startsWith("hand.")) return `${target.slice(5)} hand`;
  return target.replace(/^(place|part|tool)\./, "");
}

export function phrase(e: Element): string {
  if (e.kind === "hold" || e.kind === "delay") {
    const subject = `${e.kind} ${e.object}`.trim();
    return e.cause ? `${subject}: ${e.cause}` : subject;
  }
  if (e.target === "home" || e.target === "clear") return [e.kind, e.object, e.target].filter(Boolean).join(" ");
  const target = placeWords(e.target);
  if (e.kind === "grasp" && e.target.startsWith("hand.")) return `grasp ${e.object} from ${target}`;
  const words = [e.kind, e.object];
  if (target && target !== e.object && LINK[e.kind]) words.push(LINK[e.kind] ?? "", target);
  return words.filter(Boolean).join(" ");
}

/** A margin ratio; near zero it has no sign. */
export function ratio(value: number, digits = 2): string {
  const text = Math.abs(value).toFixed(digits);
  return value < 0 && Number(text) > 0 ? `−${text}` : text;
}

export function seconds(value: number): string {
  return value < 99.995 ? value.toFixed(2) : value.toFixed(1);
}

export function micrometres(value: number): string {
  return Math.abs(value) < 1e-5 ? `${(value * 1e6).toFixed(1)} µm` : `${(value * 1e6).toFixed(0)} µm`;
}

/** A probability band in per cent, with enough digits to tell it from 0 and 100. */
export function chance(band: Pick<Band, "low" | "high">): string {
  const low = percent(band.low);
  const high = percent(band.high);
  return low === high ? `${low} %` : `${low} to ${high} %`;
}

export function percent(p: number): string {
  for (const digits of [1, 2, 3]) {
    const text = (100 * p).toFixed(digits);
    if (Number(text) > 0 && Number(text) < 100) return text;
  }
  if (p === 0 || p === 1) return (100 * p).toFixed(0);
  return p > 0.5 ? "over 99.999" : "under 0.001";
}

export function degrees(value: number): string {
  return `${((value * 180) / Math.PI).toFixed(3)} deg`;
}
