// How long a load of a holder lasts.
import type { Holder, Project } from "../generated/sheet.ts";

/** How many builds the places of a holder have parts for: as many as hold the part that runs out first; null where
 * only tools lie, which stay. */
export function lasts(project: Project, holder: Holder): number | null {
  const needed = new Set(project.product.parts.map((p) => p.name));
  const here = holder.places.flatMap((p) => (p.holds && needed.has(p.holds) ? [p.holds] : []));
  if (!here.length) return null;
  return Math.min(...here.map((name) => here.filter((other) => other === name).length));
}
