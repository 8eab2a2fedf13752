"""Checked project -> two-hand chart, or no plan with its reasons."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeGuard

from handfast.checking.checked_project import CheckedProject
from handfast.files.record_json import make_record
from handfast.model.chart import Chart
from handfast.model.no_plan import NoPlan
from handfast.model.record import Record
from handfast.model.touch_demand import TouchDemand
from handfast.workflow.inputs import inputs_of

Progress = Callable[[str, int, int], None]


def plan(
    checked: CheckedProject,
    *,
    seed: int = 0,
    progress: Progress | None = None,
    demands: tuple[TouchDemand, ...] = (),
    together: bool = False,
    work: int = 0,
    like: Chart | None = None,
) -> Record[Chart] | Record[NoPlan]:
    """Plan every mate. Equal projects, seeds and demands give equal records; progress(mate, done, of):
    how far.

    demands: touches that a ledger asks for, made where they can be. together: both hands at once. work: how
    many other sequences are tried for a shorter cycle. like: a chart whose sequence is kept if it still
    works. Each element says what is done when it fails.
    """
    from handfast.planning import plan as search
    from handfast.planning.recoveries import with_recoveries

    found = search(
        checked, seed=seed, progress=progress, demands=demands, together=together, work=work, like=like
    )
    inputs = inputs_of(checked.project)
    if isinstance(found, NoPlan):
        return make_record(found, inputs, seed)
    return make_record(with_recoveries(checked.project, found), inputs, seed)


def choices(
    checked: CheckedProject,
    *,
    seed: int = 0,
    progress: Progress | None = None,
    together: bool = False,
    work: int = 0,
    seconds: float = 0.0,
) -> tuple[Record[Chart], ...] | Record[NoPlan]:
    """Charts to choose from, the shortest cycle first: one for each choice of hands and routes that was met
    while shorter cycles were looked for, `work` sequences and as many more as `seconds` allow."""
    from handfast.planning.plan import choices as search
    from handfast.planning.recoveries import with_recoveries

    found = search(checked, seed=seed, progress=progress, together=together, work=work, seconds=seconds)
    inputs = inputs_of(checked.project)
    if isinstance(found, NoPlan):
        return make_record(found, inputs, seed)
    return tuple(make_record(with_recoveries(checked.project, chart), inputs, seed) for chart in found)


def is_chart(record: Record[Chart] | Record[NoPlan]) -> TypeGuard[Record[Chart]]:
    """Whether the answer was yes."""
    return isinstance(record.body, Chart)


def reasons(record: Record[Chart] | Record[NoPlan]) -> NoPlan:
    """Why the answer was no. Raises TypeError if it was yes."""
    if isinstance(record.body, NoPlan):
        return record.body
    raise TypeError("expected a record of no plan, found a chart")
