"""What the planner says of a planted cell, against what is known of it."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from pathlib import Path
from typing import Literal

from tests.planning.generated.planted import Planted

from handfast.checking.check import check
from handfast.checking.checked_project import CheckedProject
from handfast.model.chart import Chart
from handfast.model.no_plan import NoPlan
from handfast.model.project import Project
from handfast.planning.plan import plan
from handfast.planning.search import search
from handfast.planning.stuck import Stuck
from handfast.planning.workspace import make_workspace
from handfast.proof import verify

Answer = Literal["right", "false no", "not found", "false yes", "plan fails proof"]
"""false no: said to be certain, of a cell that can be done; not found: said to be uncertain."""


@dataclass(frozen=True)
class Verdict:
    """answer; text: what was said, or what is wrong; at_once: how long two arms move at the same time in the
    chart of both hands [s], None where no such chart was asked for."""

    cell: Planted
    answer: Answer
    text: str = ""
    at_once: float | None = None


def judge(cell: Planted, folder: Path, seed: int = 7, prove: bool = True, together: bool = False) -> Verdict:
    """What is said of a planted cell; prove: a plan is made a chart and goes through the proof, one
    hand at a time and, with together and two arms, both hands at once.

    The rules of checking see some of the cells that cannot be done before any search; the search must see
    them all.
    """
    _, project = cell.write(folder)
    if cell.feasible and prove:
        return _proved(cell, project, seed, together)
    found = search(make_workspace(project), seed=seed)
    if isinstance(found, Stuck):
        return _refused(cell, found.no)
    return Verdict(cell, "right" if cell.feasible else "false yes", str(found.proposal.steps))


def _proved(cell: Planted, project: Project, seed: int, together: bool) -> Verdict:
    checked = check(project)
    if not isinstance(checked, CheckedProject):
        return Verdict(cell, "false no", f"checking: {checked[0]}")
    at_once: float | None = None
    for both in (False, True) if together and len(project.cell.arms) > 1 else (False,):
        chart = plan(checked, seed=seed, together=both)
        if isinstance(chart, NoPlan):
            return _refused(cell, chart)
        faults = verify(project, chart, "0" * 64).violations
        if faults:
            return Verdict(cell, "plan fails proof", f"both hands at once: {both}: {faults[0].text}")
        at_once = moving_at_once(chart) if both else None
    return Verdict(cell, "right", at_once=at_once)


def moving_at_once(chart: Chart) -> float:
    """For how long motions of different hands overlap [s], every pair of them counted."""
    spans = [
        (e.hand, e.start_s, e.start_s + e.duration_s)
        for e in chart.elements
        if any(len(m.q) > 1 for m in e.motions)
    ]
    return sum(
        max(0.0, min(end, other_end) - max(start, other_start))
        for (hand, start, end), (other, other_start, other_end) in combinations(spans, 2)
        if hand != other
    )


def _refused(cell: Planted, no: NoPlan) -> Verdict:
    certain = "certain" if no.certain else "not found within the caps"
    text = f"{certain}: {no.mate}, " + "; ".join(f"{c.count} {c.cause}" for c in no.causes)
    wrong: Answer = "false no" if no.certain else "not found"
    return Verdict(cell, wrong if cell.feasible else "right", text)
