// The process chart symbols (ASME operation and flow process charts, 1947; the triangle is a hold on two-handed
// charts, ILO, Introduction to Work Study; from memory). The same as page/process_symbol.py.
import type { Element } from "../generated/sheet.ts";

export type ProcessSymbol = "operation" | "transport" | "inspection" | "hold" | "delay";

export const ORDER: ProcessSymbol[] = ["operation", "transport", "inspection", "hold", "delay"];

export const SYMBOL_OF: Record<Element["kind"], ProcessSymbol> = {
  search: "inspection", locate: "inspection", inspect: "inspection", reach: "transport", move: "transport",
  grasp: "operation", position: "operation", assemble: "operation", use: "operation", release: "operation",
  hold: "hold", delay: "delay",
};

/** In a square from -6 to 6, y down. */
export const OUTLINE: Record<ProcessSymbol, string> = {
  operation: "M-5.2 0a5.2 5.2 0 1 0 10.4 0a5.2 5.2 0 1 0 -10.4 0z",
  transport: "M-5.8 -2.1h5.6v-3.1l6 5.2l-6 5.2v-3.1h-5.6z",
  inspection: "M-4.8 -4.8h9.6v9.6h-9.6z",
  hold: "M-5.8 -4.8h11.6l-5.8 10z",
  delay: "M-4.4 -5h3.8a5 5 0 0 1 0 10h-3.8z",
};
