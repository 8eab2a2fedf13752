// How long a load of a holder lasts.
import type { Holder, Project } from "../generated/sheet.ts";

/** How many builds the places of a holder have parts for at most, none of them rejected: as many as there are of the part
 * that runs out first; null where only tools lie, which stay. */
export function lasts(project: Project, holder: Holder): number | null {
  const parts = new Set(project.product.parts.map((p) => p.name));
  const stock = new Map<string, number>();
  for (const place of holder.places)
    if (place.holds && parts.has(place.holds)) stock.set(place.holds, (stock.get(place.holds) ?? 0) + place.stock);
  return stock.size ? Math.min(...stock.values()) : null;
}
