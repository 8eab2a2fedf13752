// Where something was written in the project's files.
import type { Sheet } from "../generated/sheet.ts";

/** "product.yaml:55", or "" where nobody wrote it. */
export function writtenAt(sheet: Sheet, what: string): string {
  const place = sheet.written.find((w) => w.what === what);
  return place ? `${place.file}:${place.line}` : "";
}
