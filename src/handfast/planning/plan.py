"""From a checked project to a two-hand chart, or a reason why not."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

from handfast.checking.checked_project import CheckedProject
from handfast.model.basis import Basis
from handfast.model.chart import Chart
from handfast.model.no_plan import NoPlan
from handfast.model.touch_demand import TouchDemand
from handfast.planning.basis import basis_of
from handfast.planning.caps import Caps
from handfast.planning.effort import Effort, GaveUpError
from handfast.planning.improve import Timed, improved, timed
from handfast.planning.lower_bound import lower_bound
from handfast.planning.offered import with_change
from handfast.planning.search import Found, Progress, search
from handfast.planning.sequence import sequence_of
from handfast.planning.stuck import Stuck
from handfast.planning.unit import units_of
from handfast.planning.workspace import Workspace, make_workspace

_TOGETHER = 6  # sequences that are tried where both hands work at once, if no more are asked for
_SECOND = 30000  # tries of a second search, some 20 s
_MANY = 30  # mates of a product; of a larger one fewer are tried


def plan(
    checked: CheckedProject,
    *,
    seed: int = 0,
    progress: Progress | None = None,
    demands: tuple[TouchDemand, ...] = (),
    together: bool = False,
    caps: Caps | None = None,
    work: int = 0,
    like: Chart | None = None,
) -> Chart | NoPlan:
    """Plan every mate of a project.

    demands: touches to make before mates beside those that the project writes; one that cannot be made
    is left out. together: both hands work at once where nothing forbids it, instead of one at a time.
    caps: where the search gives up; where it ran out, it is made once more, going four times as far. work:
    how many other sequences are tried for a shorter cycle, once there is one. like: a chart whose sequence is
    kept if it still works; then no other is tried.

    seed: of every random draw; equal projects and seeds give equal charts. progress(mate, done, of) is called
    before each. A NoPlan names a change that was tried and makes the project feasible, where one was found.
    """
    found = planned(
        checked,
        seed=seed,
        progress=progress,
        demands=demands,
        together=together,
        caps=caps,
        work=work,
        like=like,
    )
    return found if isinstance(found, NoPlan) else found[0].chart


def planned(
    checked: CheckedProject,
    *,
    seed: int = 0,
    progress: Progress | None = None,
    demands: tuple[TouchDemand, ...] = (),
    together: bool = False,
    caps: Caps | None = None,
    work: int = 0,
    seconds: float = 0.0,
    like: Chart | None = None,
) -> tuple[Planned, ...] | NoPlan:
    """The same, each chart with what it was planned from, and with the other charts that were met while a
    shorter cycle was looked for: the shortest cycle first, one for each choice of hands and routes. seconds:
    look on for so long; then the answer is not repeatable.
    """
    ws = make_workspace(checked.project, demands=demands)
    if caps is not None:
        ws = replace(ws, caps=caps)
    kept = None if like is None else sequence_of(like, units_of(checked.project.product))
    found = search(ws, seed=seed, progress=progress, first=kept)
    if isinstance(found, Stuck) and not found.no.certain:
        ws = replace(ws, caps=ws.caps.larger())
        found = _farther(ws, found, seed, progress)
    if isinstance(found, Stuck):
        return with_change(ws, found, seed)
    hands = columns(ws)
    best = timed(ws, found, hands, together, seed)
    if found.proposal.steps == kept:
        work, seconds = 0, 0.0
    elif together:
        work = max(work, 1, _TOGETHER * _MANY // max(_MANY, len(ws.project.product.mates)))
    some = improved(ws, found, best, hands, together, seed, work, progress, seconds)
    return tuple(Planned(ws, one, hands, together) for one in some)


def _farther(ws: Workspace, first: Stuck, seed: int, progress: Progress | None) -> Found | Stuck:
    """A second search; where that does not come to an end the first one's answer stands, and says so."""
    try:
        return search(replace(ws, effort=Effort(_SECOND)), seed=seed, progress=progress, known=first.tried)
    except GaveUpError:
        within = (*first.no.within, f"{_SECOND} tries of a second search that went farther")
        return replace(first, no=replace(first.no, within=within))


def columns(ws: Workspace) -> tuple[str, ...]:
    """The hands from left to right."""
    return tuple(sorted(ws.hands, key=lambda h: float(ws.hands[h].chain.base[0, 3])))


@dataclass(frozen=True, eq=False)
class Planned:
    """A sequence with its times, as a chart; and what that was planned from."""

    ws: Workspace
    found: Timed
    hands: tuple[str, ...]
    together: bool

    @cached_property
    def chart(self) -> Chart:
        """The chart."""
        return _chart(self.ws, self.found, self.hands)

    @cached_property
    def basis(self) -> Basis:
        """By which a later plan sees what it may take over."""
        return basis_of(self.ws, self.found, self.chart, self.together)


def _chart(ws: Workspace, found: Timed, hands: tuple[str, ...]) -> Chart:
    mates = ws.project.product.mates
    done = {
        m.name: max(e.number for e in found.elements if e.mate == m.name and e.kind in ("assemble", "use"))
        for m in mates
    }
    return Chart(
        project=ws.project.name,
        hands=hands,
        start=ws.start().scene,
        elements=found.elements,
        mates=tuple(sorted(done, key=lambda name: done[name])),
        makespan_s=found.makespan,
        lower_bound_s=lower_bound(ws, found.leg.elements, mates),
    )
