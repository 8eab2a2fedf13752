// The cell alone, for a report that opens from disk: the sheet and the bodies stand in the file itself.
import { readBodies } from "./cell/bodies.ts";
import { TimeBar } from "./cell/timebar.ts";
import { CellView } from "./cell/view.ts";
import type { Sheet } from "./generated/sheet.ts";
import { probe } from "./probe.ts";
import { Process } from "./process/process.ts";
import { choose, playing } from "./steps.ts";
import { Store } from "./store.ts";

/** Draws into an element of the report. */
export async function openReport(root: HTMLElement): Promise<void> {
  const sheet = JSON.parse(document.getElementById("sheet-data")?.textContent ?? "null") as Sheet;
  const packed = document.getElementById("geometry-data")?.textContent ?? "";
  const bytes = Uint8Array.from(atob(packed.trim()), (c) => c.charCodeAt(0));
  const process = new Process(sheet);
  const store = new Store();
  const cell = new CellView(process, await readBodies(bytes.buffer), store);
  root.replaceChildren(cell.root, new TimeBar(process, store).root);
  playing(store, () => process);
  probe(store, () => process, () => cell.picture.cost());
  for (const element of process.elements) {
    const drawn = document.getElementById(`element-${element.number}`);
    drawn?.addEventListener("click", () => choose(store, element));
  }
  document.body.dataset.ready = "yes";
}
