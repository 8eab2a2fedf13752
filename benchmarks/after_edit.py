"""Planning after an edit beside planning from nothing: the pump, three edits, in one process; one hand at a
time, and both at once."""

from __future__ import annotations

import shutil
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median
from typing import Any

from measured.results import PROJECTS, keep, table

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.planning.plan import Planned, planned
from handfast.planning.plan_again import Again, plan_again

sys.path.insert(0, str(Path(__file__).parents[1]))
from tests.planning.edited_pump import another_pocket, longer_screws, thicker_cover

SEED, TIMES = 7, 5
EDITS = (
    ("nothing", lambda folder: None),
    ("a cover 0.5 mm thicker", thicker_cover),
    ("screws 2 mm longer", longer_screws),
    ("a block from another pocket", another_pocket),
)


def took(what: Callable[[], Any], times_over: int) -> float:
    """Processor time [s], the median of several: nothing else on the machine counts."""
    times = []
    for _ in range(times_over):
        began = time.process_time()
        what()
        times.append(time.process_time() - began)
    return median(times)


def read(folder: Path) -> CheckedProject:
    checked = check_folder(folder)
    if not isinstance(checked, CheckedProject):
        raise SystemExit(f"{folder.name}: {checked[0]}")
    return checked


def made(checked: CheckedProject, together: bool) -> Planned:
    found = planned(checked, seed=SEED, together=together)
    if not isinstance(found, tuple):
        raise SystemExit(f"not planned: {found.mate}")
    return found[0]


def measure(folder: Path, edit: Callable[[Path], None], together: bool) -> dict[str, Any]:
    """In the folder of the plan before, as a person edits it; meshes that did not change have been read."""
    before = made(read(folder), together)
    chart, basis = before.chart, before.basis
    edit(folder)
    checked = read(folder)

    def again() -> Again:
        found = plan_again(checked, chart, basis, seed=SEED)
        if not isinstance(found, Again):
            raise SystemExit(f"planned from nothing: {found}")
        _ = found.planned.chart  # with its times
        return found

    found = again()
    often = 1 if together else TIMES  # from nothing that takes seconds
    edited, full = took(again, often), took(lambda: made(checked, together).chart, often)
    return {
        "kept": found.kept,
        "alike": found.alike,
        "of": found.of,
        "edit_s": edited,
        "full_s": full,
        "ratio": edited / full,
    }


def main() -> None:
    figures = {}
    for together in (False, True):
        way = "both hands at once" if together else "one hand at a time"
        with tempfile.TemporaryDirectory() as scratch:
            for k, (name, edit) in enumerate(EDITS):
                folder = Path(scratch) / str(k)
                shutil.copytree(PROJECTS / "dosing-pump", folder, ignore=shutil.ignore_patterns("records"))
                figures[f"{name}, {way}"] = measure(folder, edit, together)
    print("dosing-pump, planned after an edit and from nothing, processor time in one process")
    rows = [
        (
            name,
            f"{f['kept']} of {f['of']}",
            f"{f['of'] - f['kept'] - f['alike']}",
            f"{f['edit_s']:.3f}",
            f"{f['full_s']:.3f}",
            f"{f['ratio']:.2f}",
        )
        for name, f in figures.items()
    ]
    table(("edit", "elements kept", "otherwise", "after it s", "from nothing s", "RATIO"), rows)
    keep("after_edit", figures)


if __name__ == "__main__":
    main()
