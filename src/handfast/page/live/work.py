"""The worker of the live page: check, plan, budget and verify what has been saved, and write the new sheet.

A process of its own, so that it can be stopped at any time and the page stays quick. It writes only into the
folder it is given. Started as `python -m handfast.page.live.work FOLDER OUT SEED`; tells how far it is in
lines of JSON: {"text": ..., "busy": ...}, and {"sheet": true} when a new sheet is in OUT.
"""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from handfast.checking.checked_project import CheckedProject
from handfast.files.errors import RecordError
from handfast.files.record_json import save
from handfast.files.typed_json import from_json
from handfast.model.chart import Chart
from handfast.model.no_plan import NoPlan
from handfast.model.record import Record
from handfast.page.live.current import Folder, current_sheet, look, newest
from handfast.page.live.lines import line
from handfast.page.make_sheet import sheet_json
from handfast.page.saved import gather
from handfast.page.sheet import Sheet
from handfast.workflow.inputs import changed_files

if TYPE_CHECKING:
    from handfast.workflow.make_chart import Made

SHEET, GEOMETRY, RECORDS = "sheet.json", "geometry.glb", "records"


def main(folder: Path, out: Path, seed: int) -> None:
    """One round. Ends early where the answer is no."""
    tell("checking the files", busy=True)
    looked = look(folder, out / RECORDS)
    if looked.checked is None:
        _with_mistakes(looked, out)
        return
    chart = _planned(looked, looked.checked, out, seed)
    if chart is not None:
        _budgeted(looked, looked.checked, chart, out)
    publish(looked, out)
    tell("up to date" if chart is not None else "no plan", busy=False)


def publish(looked: Folder, out: Path) -> None:
    """Write the sheet and its geometry, whole or not at all, and say so."""
    sheet, geometry = current_sheet(looked)
    put(out / GEOMETRY, geometry)
    put(out / SHEET, sheet_json(sheet).encode())
    line(sheet=True)


def put(path: Path, data: bytes) -> None:
    """A reader never sees half of it."""
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_suffix(".part")
    beside.write_bytes(data)
    beside.replace(path)


def tell(text: str, *, busy: bool) -> None:
    """One line for the page."""
    line(text=text, busy=busy)


def _with_mistakes(looked: Folder, out: Path) -> None:
    """What was drawn before stays, marked as older, with the mistakes beside it."""
    before = out / SHEET
    sheet, _ = current_sheet(looked)
    if before.exists():
        old: Sheet = from_json(json.loads(before.read_bytes()), Sheet)
        sheet = replace(old, findings=looked.findings, changed=("files with mistakes",) if old.chart else ())
    put(before, sheet_json(sheet).encode())
    line(sheet=True)
    errors = sum(1 for f in looked.findings if f.severity == "error")
    tell(f"{errors} mistake{'s' if errors != 1 else ''} in the files", busy=False)


def _planned(looked: Folder, checked: CheckedProject, out: Path, seed: int) -> Record[Chart] | None:
    """The chart of the files as they are; planned now if there is none yet, from the one before as far as
    that goes. None: there is no plan."""
    from handfast.workflow.earlier_plan import BASIS, CHART

    chart = newest(checked.project, "chart", Chart, looked.homes)
    if chart is not None and not changed_files(checked.project, chart):
        return chart
    tell("planning", busy=True)
    found = _made(looked, checked, seed)
    if isinstance(found, Record):
        save(found, out / RECORDS / "no-plan.json")
    else:
        save(found.chart, out / RECORDS / CHART)
        save(found.basis, out / RECORDS / BASIS)
    publish(looked, out)
    return None if isinstance(found, Record) else found.chart


def _made(looked: Folder, checked: CheckedProject, seed: int) -> Made | Record[NoPlan]:
    """Planned after the edit; from nothing where that cannot be."""
    from handfast.workflow.earlier_plan import earlier_plan
    from handfast.workflow.make_chart import MadeAgain, choices, plan_again

    def told(name: str, done: int, of: int) -> None:
        tell(f"planning {name} ({done + 1} of {of})", busy=True)

    before = next((made for home in looked.homes if (made := earlier_plan(home)) is not None), None)
    again = None if before is None else plan_again(checked, before, seed=seed, progress=told)
    if isinstance(again, MadeAgain):
        return again.made
    found = choices(checked, seed=seed, progress=told)
    return found[0] if isinstance(found, tuple) else found


def _budgeted(looked: Folder, checked: CheckedProject, chart: Record[Chart], out: Path) -> None:
    """Ledger and proof, where they are not there yet."""
    from handfast.uncertainty.refusal import BudgetError
    from handfast.workflow.make_ledger import budget
    from handfast.workflow.make_proof import verify

    page, _ = gather(checked.project, chart, *looked.homes)
    if page.ledger is None:
        tell("budgeting", busy=True)
        try:
            save(budget(checked, chart), out / RECORDS / "ledger.json")
        except BudgetError as error:
            tell(f"not budgeted: {error}", busy=True)
        publish(looked, out)
    if page.proof is None:
        tell("proving the motions", busy=True)
        save(verify(checked.project, chart), out / RECORDS / "proof.json")


def _arguments(words: list[str]) -> tuple[Path, Path, int]:
    folder, out, seed = words
    return Path(folder), Path(out), int(seed)


def _refusals() -> tuple[type[Exception], ...]:
    from handfast.geometry.mesh_error import MeshError
    from handfast.kinematics.chain import ArmError
    from handfast.uncertainty.refusal import BudgetError

    return RecordError, MeshError, ArmError, BudgetError, OSError


def run(words: list[str]) -> Any:
    """What a user can do wrong is told on the page, not traced."""
    try:
        main(*_arguments(words))
    except _refusals() as error:
        tell(f"cannot go on: {error}", busy=False)


if __name__ == "__main__":
    run(sys.argv[1:])
