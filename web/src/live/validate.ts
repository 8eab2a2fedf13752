// A sheet is checked against the schema of the records before anything is drawn from it.
import { Validator } from "@cfworker/json-schema";
import schema from "../generated/sheet.schema.json" with { type: "json" };
import type { Sheet } from "../generated/sheet.ts";

/** The sheet. Throws an Error that names the first place that is not as the schema says. */
export function readSheet(data: unknown): Sheet {
  const result = new Validator(schema as object, "7").validate(data);
  const last = result.errors[result.errors.length - 1];
  if (!result.valid) throw new Error(`The sheet is not of this page's version: at ${last?.instanceLocation ?? "#"}: ${last?.error ?? ""}`);
  return data as Sheet;
}
