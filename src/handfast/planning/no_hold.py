"""Routes whose hand cannot hold what it has to, whatever is done before: told before the search begins."""

from __future__ import annotations

from handfast.mates.grasps import grasps
from handfast.mates.subassemblies import stands_on
from handfast.planning.clause import Clause
from handfast.planning.failure import Failure
from handfast.planning.route import Route
from handfast.planning.sifted import no_grasp
from handfast.planning.unit import Unit
from handfast.planning.workspace import Workspace


def no_hold(
    ws: Workspace, units: tuple[Unit, ...], routes: dict[str, tuple[Route, ...]]
) -> tuple[list[Clause], dict[tuple[str, Route], list[Failure]]]:
    """Clauses for routes of a hand whose gripper has no grasp of the part or the tool at all, or that holds
    what the part goes into; the failures by unit and route."""
    clauses: list[Clause] = []
    failures: dict[tuple[str, Route], list[Failure]] = {}
    for unit in units:
        holds = {hand: _cannot(ws, unit, hand) for hand in ws.hands}
        for route in routes[unit.name]:
            found = [f for f in (holds[hand] for hand in dict.fromkeys(route.hands)) if f is not None]
            if found:
                clauses.append(Clause(unit.name, route, frozenset(), True))
                failures[unit.name, route] = found
    return clauses, failures


def _cannot(ws: Workspace, unit: Unit, hand: str) -> Failure | None:
    mate = unit.mates[0]
    if mate.stands == f"hand.{hand}":
        root = stands_on(ws.project.product, mate)
        return Failure("hand is taken", f"the {hand} hand holds {root}, which {mate.part} goes into")
    item = ws.items[unit.tool or mate.part]
    gripper = ws.hands[hand].gripper
    if grasps(gripper, item.name, item.features, item.mass, item.friction):
        return None
    return no_grasp(gripper, item.name, item.features)
