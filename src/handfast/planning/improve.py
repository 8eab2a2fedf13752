"""Other routes than those that seem cheapest, kept where the whole cycle gets shorter."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

from handfast.model.element import Element
from handfast.planning.leg import Leg
from handfast.planning.lower_bound import lower_bound
from handfast.planning.master import Clause
from handfast.planning.overlap import at_once
from handfast.planning.schedule import numbered, one_at_a_time
from handfast.planning.search import Found, Progress, Step, go_home, search
from handfast.planning.workspace import Workspace


@dataclass(frozen=True, eq=False, slots=True)
class Timed:
    """A sequence with its times: the leg up to everyone at home, and the elements of its chart."""

    leg: Leg
    elements: tuple[Element, ...]

    @property
    def makespan(self) -> float:
        """When the last element ends [s]."""
        return max(e.start_s + e.duration_s for e in self.elements)


def timed(ws: Workspace, found: Found, hands: tuple[str, ...], together: bool, seed: int) -> Timed:
    """A found sequence in time. together: both hands at once, where a timing is found."""
    leg = go_home(ws, found.leg, list(ws.hands), "", seed)
    overlapped = at_once(ws, ws.start(), leg.elements) if together else None
    elements = numbered(overlapped, hands) if overlapped is not None else one_at_a_time(leg.elements, hands)
    return Timed(leg, elements)


def improved(
    ws: Workspace,
    found: Found,
    best: Timed,
    hands: tuple[str, ...],
    together: bool,
    seed: int,
    work: int,
    progress: Progress | None,
) -> Timed:
    """The best of some sequences. work: how many are tried; equal work, equal answers.

    One route of the best so far is left out after the other; each shorter cycle is kept, and the search goes
    on from there. progress is told the best cycle so far, its bound and the gap between them.
    """
    mates = ws.project.product.mates
    out: tuple[Clause, ...] = tuple(c for c in found.clauses if c.proven)
    waiting: deque[Step] = deque(found.proposal.steps)
    for n in range(work):
        if not waiting:
            break
        unit, route = waiting.popleft()
        if progress is not None:
            progress(_so_far(best, lower_bound(ws, best.leg.elements, mates), unit), n, work)
        without = (*out, Clause(unit, route, frozenset(), False))
        other = search(ws, seed=seed, known=without)
        if not isinstance(other, Found):
            continue
        new = timed(ws, other, hands, together, seed)
        if new.makespan < best.makespan - 1e-6:
            best, out = new, without
            steps = other.proposal.steps
            untried = [s for s in waiting if s in steps]
            waiting = deque([*untried, *(s for s in steps if s not in untried)])
    return best


def _so_far(best: Timed, bound: float, unit: str) -> str:
    gap = 100 * (best.makespan / bound - 1) if bound > 0 else float("inf")
    return f"{best.makespan:.2f} s a cycle, bound {bound:.2f} s, gap {gap:.0f} %; another route for {unit}"
