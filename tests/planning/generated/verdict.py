"""What the planner says of a planted cell, against what is known of it."""

from __future__ import annotations

import time
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from tests.planning.generated.planted import Planted

from handfast.checking.check import check
from handfast.checking.checked_project import CheckedProject
from handfast.model.chart import Chart
from handfast.model.project import Project
from handfast.planning.plan import plan
from handfast.planning.search import Found, search
from handfast.planning.workspace import make_workspace
from handfast.proof import verify

Answer = Literal["right", "false no", "not found", "false yes", "plan fails proof"]
"""false no: said to be certain, of a cell that can be done; not found: said to be uncertain."""


@dataclass(frozen=True)
class Verdict:
    """answer; text: what was said; seconds: of the search alone, for the report only."""

    cell: Planted
    answer: Answer
    text: str
    seconds: float


def judge(cell: Planted, folder: Path, seed: int = 7, prove: bool = True) -> Verdict:
    """Search a planted cell; a plan is made a chart and proved.

    The rules of checking see some of the cells that cannot be done before any search; the search must see
    them all.
    """
    _, project = cell.write(folder)
    began = time.perf_counter()
    found = search(make_workspace(project), seed=seed)
    took = time.perf_counter() - began
    if not isinstance(found, Found):
        certain = "certain" if found.no.certain else "not found within the caps"
        text = f"{certain}: {found.no.mate}, " + "; ".join(f"{c.count} {c.cause}" for c in found.no.causes)
        wrong: Answer = "false no" if found.no.certain else "not found"
        return Verdict(cell, wrong if cell.feasible else "right", text, took)
    if not cell.feasible:
        return Verdict(cell, "false yes", str(found.proposal.steps), took)
    fault = _fault(project, seed) if prove else ""
    return Verdict(cell, "plan fails proof" if fault else "right", fault, took)


def _fault(project: Project, seed: int) -> str:
    """The first thing that is wrong with the chart, or nothing."""
    checked = check(project)
    if not isinstance(checked, CheckedProject):
        return f"checking: {checked[0]}"
    chart = plan(checked, seed=seed)
    if not isinstance(chart, Chart):
        return f"the search found a plan, then there was none: {chart}"
    proof = verify(project, chart, "0" * 64)
    return proof.violations[0].text if proof.violations else ""
