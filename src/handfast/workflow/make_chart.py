"""Checked project -> two-hand chart, or no plan with its reasons."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeGuard

from handfast import __version__
from handfast.checking.checked_project import CheckedProject
from handfast.files.record_json import make_record, sha256
from handfast.model.basis import Basis
from handfast.model.chart import Chart
from handfast.model.no_plan import NoPlan
from handfast.model.project import InputFile
from handfast.model.record import Record
from handfast.model.touch_demand import TouchDemand
from handfast.workflow.inputs import inputs_of

if TYPE_CHECKING:
    from handfast.planning.plan import Planned

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
    demands: tuple[TouchDemand, ...] = (),
    like: Chart | None = None,
) -> tuple[Made, ...] | Record[NoPlan]:
    """Charts to choose from, the shortest cycle first: one for each choice of hands and routes that was met
    while shorter cycles were looked for, `work` sequences and as many more as `seconds` allow. demands, like:
    as for `plan`."""
    from handfast.planning.plan import planned

    found = planned(
        checked, seed=seed, progress=progress, demands=demands, together=together, work=work, seconds=seconds,
        like=like,
    )  # fmt: skip
    inputs = inputs_of(checked.project)
    if isinstance(found, NoPlan):
        return make_record(found, inputs, seed)
    return tuple(_made(checked, one, inputs, seed) for one in found)


@dataclass(frozen=True, slots=True)
class Made:
    """A chart, and what it was planned from."""

    chart: Record[Chart]
    basis: Record[Basis]


@dataclass(frozen=True, slots=True)
class MadeAgain:
    """A chart made from an earlier one; kept: how many elements are as they were, of `of` (holds and delays
    are not counted); alike: others, planned anew, that came out as they were; because: why units were planned
    anew, by name. An earlier chart that still stands is given back itself."""

    made: Made
    kept: int
    of: int
    alike: int
    because: Mapping[str, str]


def plan_again(
    checked: CheckedProject,
    earlier: Made,
    *,
    seed: int = 0,
    progress: Progress | None = None,
    demands: tuple[TouchDemand, ...] = (),
    saved: bool = True,
) -> MadeAgain | str:
    """The plan after an edit, or with other demands: what depends on them is planned anew, all else is taken
    over and tested against what changed; or why that cannot be done.

    The chart depends on the earlier one as well as on the project, and says so: that is among its inputs,
    unless the earlier one is not saved and so was made from the same project only.
    """
    from handfast.planning.plan_again import plan_again as search

    if (earlier.chart.seed, earlier.chart.tool_version) != (seed, __version__):
        return "it was planned with another seed, or by another version"
    chart, inputs = earlier.chart, inputs_of(checked.project)
    same = set(inputs) == {f for f in chart.inputs if f.path != chart.kind}
    if same and not demands and not _makes_demanded(checked, chart.body):
        of = sum(len(u.done) for u in earlier.basis.body.units) + len(earlier.basis.body.way_home)
        return MadeAgain(earlier, of, of, 0, {})
    found = search(checked, chart.body, earlier.basis.body, seed=seed, progress=progress, demands=demands)
    if isinstance(found, str):
        return found
    # Where all is as it was, it depends on no more than the earlier chart did.
    before = tuple(f for f in chart.inputs if f.path == chart.kind)
    if saved and found.kept < found.of:
        before = (InputFile(chart.kind, earlier.basis.inputs[0].sha256),)
    made = _made(checked, found.planned, (*inputs, *before), seed)
    return MadeAgain(made, found.kept, found.of, found.alike, found.because)


def _makes_demanded(checked: CheckedProject, chart: Chart) -> bool:
    """Whether a chart makes touches, or ways in, that the project does not write."""
    own = checked.project.product
    touches = Counter(e.mate for e in chart.elements if e.kind == "locate")
    more = any(count > len(own.mate(mate).touches) for mate, count in touches.items())
    return more or any(e.strategy is not None for e in chart.elements)


def _made(checked: CheckedProject, one: Planned, inputs: tuple[InputFile, ...], seed: int) -> Made:
    from handfast.planning.recoveries import with_recoveries

    chart = make_record(with_recoveries(checked.project, one.chart), inputs, seed)
    return Made(chart, make_record(one.basis, (InputFile(chart.kind, sha256(chart)),), seed))


def is_chart(record: Record[Chart] | Record[NoPlan]) -> TypeGuard[Record[Chart]]:
    """Whether the answer was yes."""
    return isinstance(record.body, Chart)


def reasons(record: Record[Chart] | Record[NoPlan]) -> NoPlan:
    """Why the answer was no. Raises TypeError if it was yes."""
    if isinstance(record.body, NoPlan):
        return record.body
    raise TypeError("expected a record of no plan, found a chart")
