"""The sheet of a project folder as it is now."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from handfast.checking.check import check_reading
from handfast.checking.checked_project import CheckedProject
from handfast.files.project_reader import Reading, read_folder
from handfast.files.record_json import RECORDS_FOLDER, load
from handfast.model.chart import Chart
from handfast.model.finding import Finding
from handfast.model.no_plan import NoPlan
from handfast.model.project import Project
from handfast.model.record import Record
from handfast.page.make_sheet import empty_sheet, make_sheet
from handfast.page.saved import gather
from handfast.page.sheet import Sheet
from handfast.workflow.inputs import changed_files

B = TypeVar("B")


@dataclass(frozen=True, eq=False, slots=True)
class Folder:
    """A project folder as read. checked: None where something is wrong, which the findings say. homes: where
    its records lie, newest first."""

    reading: Reading
    checked: CheckedProject | None
    findings: tuple[Finding, ...]
    homes: tuple[Path, ...]


def look(folder: Path, fresh: Path) -> Folder:
    """Read and check. fresh: a folder of records newer than the project's own; it need not be there."""
    reading = read_folder(folder)
    verdict = check_reading(reading)
    homes = (fresh, folder / RECORDS_FOLDER)
    if isinstance(verdict, CheckedProject):
        return Folder(reading, verdict, verdict.notes, homes)
    return Folder(reading, None, verdict, homes)


def current_sheet(looked: Folder) -> tuple[Sheet, bytes]:
    """The sheet and its geometry (GLB). Of files with mistakes it shows the mistakes alone.

    Raises RecordError if a saved record is damaged.
    """
    if looked.checked is None:
        return empty_sheet(looked.findings), b""
    project, homes = looked.checked.project, looked.homes
    chart = newest(project, "chart", Chart, homes)
    no_plan = newest(project, "no-plan", NoPlan, homes)
    answered = no_plan is not None and not changed_files(project, no_plan)
    page = gather(project, chart, *homes)[0] if chart is not None else None
    changed = changed_files(project, chart) if chart is not None else ()
    return make_sheet(
        project,
        looked.reading.sources,
        looked.findings,
        page,
        no_plan.body if no_plan and answered else None,
        changed,
    )


def newest(project: Project, name: str, body: type[B], homes: tuple[Path, ...]) -> Record[B] | None:
    """The record of the files as they are; failing that, the first there is. Raises RecordError."""
    found = [load(home / f"{name}.json", body) for home in homes if (home / f"{name}.json").exists()]
    current = [record for record in found if not changed_files(project, record)]
    return next(iter([*current, *found]), None)
