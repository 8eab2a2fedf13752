"""Other sequences than the one that seems cheapest, kept where the whole cycle gets shorter."""

from __future__ import annotations

import itertools
import time
from collections import deque
from dataclasses import dataclass, replace

from handfast.model.element import Element
from handfast.planning.leg import Leg
from handfast.planning.local_moves import Reckoning, Steps, moves
from handfast.planning.lower_bound import lower_bound
from handfast.planning.master import Proposal
from handfast.planning.schedule import numbered, one_at_a_time
from handfast.planning.search import Found, Progress, follow, go_home
from handfast.planning.stretches import in_stretches
from handfast.planning.stuck import Tried
from handfast.planning.unit import Unit, units_of
from handfast.planning.workspace import Workspace


@dataclass(frozen=True, eq=False, slots=True)
class Timed:
    """A sequence with its times: the leg up to everyone at home, the elements of its chart, and the steps,
    with how many of the leg's elements are done at the end of each."""

    leg: Leg
    elements: tuple[Element, ...]
    steps: Steps
    ends: tuple[int, ...]

    @property
    def makespan(self) -> float:
        """When the last element ends [s]."""
        return max(e.start_s + e.duration_s for e in self.elements)


def timed(ws: Workspace, found: Found, hands: tuple[str, ...], together: bool, seed: int) -> Timed:
    """A found sequence in time. together: both hands at once, where a timing is found."""
    leg = go_home(ws, found.leg, list(ws.hands), "", seed)
    steps, legs = found.proposal.steps, found.tried.legs
    ends = tuple(len(legs[steps[: k + 1]].elements) for k in range(len(steps)))
    overlapped = in_stretches(ws, ws.start(), leg.elements) if together else None
    if overlapped is None:
        return Timed(leg, one_at_a_time(leg.elements, hands), steps, ends)
    return Timed(leg, numbered(overlapped.elements, hands, overlapped.waits), steps, ends)


def improved(
    ws: Workspace,
    found: Found,
    best: Timed,
    hands: tuple[str, ...],
    together: bool,
    seed: int,
    work: int,
    progress: Progress | None,
    seconds: float = 0.0,
) -> tuple[Timed, ...]:
    """Some sequences, the shortest cycle first, one for each choice of routes. work: how many are tried at
    least; equal work, equal answers. seconds: go on until so much time has passed, which is not repeatable.

    Each is a small step away from the best so far: another hand or route for one unit, or one unit earlier
    or later; those that promise the shortest cycle come first. A shorter cycle is kept, and the search goes
    on from there. progress is told the best cycle so far, its bound and the gap between them.
    """
    mates, units = ws.project.product.mates, units_of(ws.project.product)
    steps, seen = found.proposal.steps, {found.proposal.steps}
    waiting: deque[Steps] | None = None
    kept = {frozenset(steps): best}
    until = time.monotonic() + seconds
    quick = replace(ws, caps=ws.caps.smaller())
    for n in itertools.count():
        if n >= work and time.monotonic() >= until:
            break
        if waiting is None:
            waiting = _promising(ws, units, best.leg, steps, found.tried, seen, together)
        if not waiting:
            break
        other = waiting.popleft()
        seen.add(other)
        if progress is not None:
            progress(
                _so_far(best, lower_bound(ws, best.leg.elements, mates), _moved(steps, other)),
                n,
                max(work, n + 1),
            )
        proposal = Proposal(other, 0)
        leg = follow(quick, units, proposal, found.tried, seed, None)
        if leg is None:
            continue
        new = timed(ws, replace(found, leg=leg, proposal=proposal), hands, together, seed)
        same = kept.get(frozenset(other))
        if same is None or new.makespan < same.makespan:
            kept[frozenset(other)] = new
        if new.makespan < best.makespan - 1e-6:
            best, steps, waiting = new, other, None
    return tuple(sorted(kept.values(), key=lambda t: t.makespan))


def _promising(
    ws: Workspace,
    units: tuple[Unit, ...],
    leg: Leg,
    steps: Steps,
    tried: Tried,
    seen: set[Steps],
    together: bool,
) -> deque[Steps]:
    """Sequences one move away, the shortest reckoned cycle first."""
    product = ws.project.product
    set_downs = any(h.kind == "set-down" for h in ws.project.cell.holders)
    clauses = tuple(c for c in tried.clauses if c.proven)
    near = moves(units, tuple(ws.hands), set_downs, clauses, steps, product.order_given)
    reckoning = Reckoning(leg, units, steps, together)
    return deque(sorted((s for s in near if s not in seen), key=reckoning.seconds))


def _moved(old: Steps, new: Steps) -> str:
    """Which unit a sequence does otherwise, in words."""
    for unit, route in new:
        if (unit, route) not in old:
            return f"{unit} by {route}"
    order = [unit for unit, _ in old]
    k = next(k for k, (unit, _) in enumerate(new) if unit != order[k])
    later = order[k] != new[k + 1][0]
    return f"{order[k] if later else new[k][0]} {'later' if later else 'earlier'}"


def _so_far(best: Timed, bound: float, move: str) -> str:
    gap = 100 * (best.makespan / bound - 1) if bound > 0 else float("inf")
    return f"{best.makespan:.2f} s a cycle, bound {bound:.2f} s, gap {gap:.0f} %; trying {move}"
