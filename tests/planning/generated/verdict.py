"""What the planner says of a planted cell, against what is known of it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from tests.planning.generated.planted import Planted

from handfast.checking.check import check
from handfast.checking.checked_project import CheckedProject
from handfast.model.no_plan import NoPlan
from handfast.model.project import Project
from handfast.planning.plan import plan
from handfast.planning.search import Stuck, search
from handfast.planning.workspace import make_workspace
from handfast.proof import verify

Answer = Literal["right", "false no", "not found", "false yes", "plan fails proof"]
"""false no: said to be certain, of a cell that can be done; not found: said to be uncertain."""


@dataclass(frozen=True)
class Verdict:
    """answer; text: what was said, or what is wrong."""

    cell: Planted
    answer: Answer
    text: str = ""


def judge(cell: Planted, folder: Path, seed: int = 7, prove: bool = True) -> Verdict:
    """What is said of a planted cell; prove: a plan is made a chart and goes through the proof.

    The rules of checking see some of the cells that cannot be done before any search; the search must see
    them all.
    """
    _, project = cell.write(folder)
    if cell.feasible and prove:
        return _proved(cell, project, seed)
    found = search(make_workspace(project), seed=seed)
    if isinstance(found, Stuck):
        return _refused(cell, found.no)
    return Verdict(cell, "right" if cell.feasible else "false yes", str(found.proposal.steps))


def _proved(cell: Planted, project: Project, seed: int) -> Verdict:
    checked = check(project)
    if not isinstance(checked, CheckedProject):
        return Verdict(cell, "false no", f"checking: {checked[0]}")
    chart = plan(checked, seed=seed)
    if isinstance(chart, NoPlan):
        return _refused(cell, chart)
    faults = verify(project, chart, "0" * 64).violations
    return Verdict(cell, "plan fails proof", faults[0].text) if faults else Verdict(cell, "right")


def _refused(cell: Planted, no: NoPlan) -> Verdict:
    certain = "certain" if no.certain else "not found within the caps"
    text = f"{certain}: {no.mate}, " + "; ".join(f"{c.count} {c.cause}" for c in no.causes)
    wrong: Answer = "false no" if no.certain else "not found"
    return Verdict(cell, wrong if cell.feasible else "right", text)
