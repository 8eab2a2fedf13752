"""Arms that cannot leave home at all, whatever is done: told before the search begins."""

from __future__ import annotations

from handfast import _kernel
from handfast.planning.clause import Clause
from handfast.planning.connect import RESOLUTION
from handfast.planning.failure import Failure
from handfast.planning.own_links import own_hit
from handfast.planning.route import Route
from handfast.planning.unit import Unit
from handfast.planning.workspace import Workspace


def shut_in(
    ws: Workspace, units: tuple[Unit, ...], routes: dict[str, tuple[Route, ...]]
) -> tuple[list[Clause], dict[tuple[str, Route], list[Failure]]]:
    """Clauses for all routes of a hand that at home comes too near to something that never moves, or to
    itself: no free path begins there. The failures by unit and route."""
    clauses: list[Clause] = []
    failures: dict[tuple[str, Route], list[Failure]] = {}
    for hand in ws.hands:
        failure = at_home(ws, hand)
        if failure is None:
            continue
        for unit in units:
            for route in routes[unit.name]:
                if hand in route.hands:
                    clauses.append(Clause(unit.name, route, frozenset(), True))
                    failures[unit.name, route] = [failure]
    return clauses, failures


def at_home(ws: Workspace, hand: str) -> Failure | None:
    """What a hand at home comes too near to that never moves, or None."""
    state = ws.start().without(set(ws.items))
    cover, home = ws.hand_cover(state, hand), ws.hands[hand].chain.home[None]
    boxes = [(name, _kernel.World(box_poses=p, box_halves=h)) for name, p, h in ws.fixed_boxes]
    worlds = [*boxes, ("another of its links", _kernel.World())]
    gaps = [(float(_kernel.clearance(cover, w, home)[0]), name) for name, w in worlds]
    (clear, name), need = min(gaps), ws.margin + RESOLUTION / 2
    if clear >= need:
        own = own_hit(ws, state, hand, home)
        return (
            None
            if own is None
            else Failure(
                "collision on the way", f"{hand} arm at home, {own.moving} on {own.standing}", own.short_by
            )
        )
    return Failure("collision on the way", f"{hand} arm at home, on {name}", need - clear, name)
