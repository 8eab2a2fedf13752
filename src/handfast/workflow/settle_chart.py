"""Plan and budget in turn: the ledger demands touches and strategies, the next plan makes them, until nothing
more helps."""

from __future__ import annotations

from dataclasses import dataclass, replace

from handfast.checking.checked_project import CheckedProject
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger, MateRow
from handfast.model.no_plan import NoPlan
from handfast.model.record import Record
from handfast.model.strategy import Strategy
from handfast.model.touch import Touch
from handfast.model.touch_demand import TouchDemand
from handfast.workflow.make_chart import Made, MadeAgain, Progress, choices, plan_again
from handfast.workflow.make_ledger import budget

# Each round adds a touch or an exclusion; this many are more than any project here has taken.
_ROUNDS = 8
Demands = tuple[TouchDemand, ...]


class NoPlanError(ValueError):
    """There is no plan to settle. no_plan says why."""

    def __init__(self, no_plan: NoPlan) -> None:
        super().__init__(f"no plan for {no_plan.mate}: {', '.join(c.cause for c in no_plan.causes)}")
        self.no_plan = no_plan


@dataclass(frozen=True, slots=True)
class Settled:
    """The last chart with what it was planned from, and its ledger; demands: what was asked for beside the
    project's own touches, what could not be made, and why no more was asked for; again: what was taken over
    of an earlier chart, or why nothing; None where none was given."""

    made: Made
    ledger: Record[Ledger]
    demands: Demands
    again: MadeAgain | str | None = None

    @property
    def chart(self) -> Record[Chart]:
        """The chart."""
        return self.made.chart


def settle(
    checked: CheckedProject,
    *,
    target: float | None = None,
    seed: int = 0,
    progress: Progress | None = None,
    together: bool = False,
    work: int = 0,
) -> tuple[Record[Chart], Record[Ledger]]:
    """A chart with as few touches as bring every mate to `target` (0..1; None: the project's), and its
    ledger.

    together: both hands at once; work: how many other sequences are tried for a shorter cycle. The sequence
    is found before any touch is asked for, and kept where they can be made in it.

    Where the target is out of reach the chart has the touches that are worth their time. Raises
    NoPlanError, and BudgetError if the error sources cannot be used.
    """
    found = settled(checked, target=target, seed=seed, progress=progress, together=together, work=work)
    return found.chart, found.ledger


def settled(
    checked: CheckedProject,
    *,
    target: float | None = None,
    seed: int = 0,
    progress: Progress | None = None,
    together: bool = False,
    work: int = 0,
    earlier: Made | None = None,
) -> Settled:
    """The same, with what was demanded and what came of it. Raises NoPlanError and BudgetError.

    earlier: a chart of before to go on from, as `plan_again`: touches are chosen anew, and only what they or
    an edit change is planned anew. Where the sequence of the shortest cycle falls short of the target, the
    one as first found is settled too, and taken if it falls less short.
    """
    wanted = checked.project.target if target is None else target
    again = None if earlier is None else plan_again(checked, earlier, seed=seed, progress=progress)
    if earlier is not None and isinstance(again, MadeAgain):
        go = _Rounds(checked, wanted, seed, progress, together, earlier, saved=True)
        return go.settled(again.made, again)
    first = _first(choices(checked, seed=seed, progress=progress, together=together, work=work))
    best = _Rounds(checked, wanted, seed, progress, together, first, saved=False).settled(first)
    missing = short_of(best.ledger.body, wanted)
    if missing and (together or work):
        plain = _first(choices(checked, seed=seed, progress=progress)).chart.body
        as_found = _first(choices(checked, seed=seed, progress=progress, together=together, like=plain))
        other = _Rounds(checked, wanted, seed, progress, together, as_found, saved=False).settled(as_found)
        if len(short_of(other.ledger.body, wanted)) < len(missing):
            best = other
    return replace(best, again=again)


def _first(found: tuple[Made, ...] | Record[NoPlan]) -> Made:
    if isinstance(found, tuple):
        return found[0]
    raise NoPlanError(found.body)


@dataclass(frozen=True, slots=True)
class _Rounds:
    """Rounds of asking and planning. base: the chart that every round goes on from; saved: whether that is
    the one on disk, or was only just made."""

    checked: CheckedProject
    wanted: float
    seed: int
    progress: Progress | None
    together: bool
    base: Made
    saved: bool

    def settled(self, first: Made, again: MadeAgain | str | None = None) -> Settled:
        """Settled with the sequence of a first chart, which makes no demanded touches, where they can be made
        in it. again: how that was made from one that is saved."""
        made, demands = first, Demands()
        for _ in range(_ROUNDS):
            asked = _asked(self.checked, made.chart.body, demands, self.wanted, self.seed)
            if _wants(asked) == _wants(demands):
                demands = asked
                break
            again = self._again(asked)
            found = again.made if isinstance(again, MadeAgain) else self._from_nothing(first, asked)
            made = made if found is None else found
            demands = as_made(made.chart.body, asked)
        return Settled(made, budget(self.checked, made.chart), demands, again if self.saved else None)

    def _again(self, asked: Demands) -> MadeAgain | str:
        return plan_again(
            self.checked, self.base, seed=self.seed, progress=self.progress, demands=asked, saved=self.saved
        )

    def _from_nothing(self, first: Made, asked: Demands) -> Made | None:
        found = choices(
            self.checked, seed=self.seed, progress=self.progress, together=self.together, demands=asked,
            like=first.chart.body,
        )  # fmt: skip
        return found[0] if isinstance(found, tuple) else None


def short_of(ledger: Ledger, target: float) -> tuple[MateRow, ...]:
    """The mates whose chance may lie below the target (0..1), or depends on the contact model."""
    return tuple(
        row for row in ledger.rows if row.probability.low < target or row.probability.model_dependent
    )


def _asked(checked: CheckedProject, chart: Chart, demands: Demands, target: float, seed: int) -> Demands:
    from handfast.planning.can_touch import can_touch
    from handfast.uncertainty.choose_touches import demands_for

    project = checked.project
    return demands_for(project, chart, target, demands, can_touch(project, chart, seed))


def as_made(chart: Chart, demands: Demands) -> Demands:
    """The demands with the touches that the chart does not make moved to those that cannot be made."""
    out = []
    for demand in demands:
        made = [e.touch for e in chart.elements if e.kind == "locate" and e.mate == demand.mate]
        kept = tuple(t for t in demand.touches if t in made)
        lost = tuple(t for t in demand.touches if t not in made)
        out.append(replace(demand, touches=kept, excluded=(*demand.excluded, *lost)))
    return tuple(out)


def _wants(demands: Demands) -> dict[str, tuple[tuple[Touch, ...], Strategy | None]]:
    return {d.mate: (d.touches, d.strategy) for d in demands if d.touches or d.strategy}
