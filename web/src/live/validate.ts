// A sheet is checked against the schema of the records before anything is drawn from it: against the one that the
// program has now, which may know fields that this page does not.
import { type Schema, Validator } from "@cfworker/json-schema";
import type { Sheet } from "../generated/sheet.ts";

/** The sheet. Throws an Error that names the first place that is not as the schema says. */
export function readSheet(data: unknown, schema: object): Sheet {
  const result = new Validator(schema as Schema, "7").validate(data);
  // The deepest place is the one that is wrong; those around it are so because of it.
  const depth = (e: { instanceLocation: string }): number => e.instanceLocation.split("/").length;
  const last = result.errors.reduce((a, b) => (depth(b) > depth(a) ? b : a), result.errors[0] ?? { instanceLocation: "#", error: "" });
  if (!result.valid) throw new Error(`The sheet is not of this page's version: at ${last.instanceLocation}: ${last.error}`);
  return data as Sheet;
}
