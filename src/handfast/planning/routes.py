"""How a part gets from where it lies to its mate: which hand, which grasp, with or without a handover."""

from __future__ import annotations

from collections.abc import Container, Iterator

from handfast.model.grasp import Grasp
from handfast.model.mate import Mate
from handfast.planning.caps import at_most, first_leg, within
from handfast.planning.failure import Failure
from handfast.planning.handover import grips_meet, handover
from handfast.planning.leg import Leg
from handfast.planning.pick import pick
from handfast.planning.place import place
from handfast.planning.route import Route
from handfast.planning.set_down import set_down, unless_spent
from handfast.planning.sifted import sifted, varied
from handfast.planning.workspace import Workspace

Legs = Iterator[Leg | Failure]


def carry(
    ws: Workspace, leg: Leg, mate: Mate, route: Route, seed: int, spent: Container[object] = ()
) -> Legs:
    """Legs that bring a part home by one route, grasps in the order of `mates.grasps`. spent: grasps by which
    no more are wanted, to which the caller may add."""
    first, last = route.hands[0], route.last
    busy = [h for h in dict.fromkeys(route.hands) if leg.state.held_by(h) is not None]
    if busy:
        text = f"the {busy[0]} hand holds {leg.state.held_by(busy[0])}"
        yield Failure("hand is taken", text, of=("taken", mate.name, busy[0]))
        return
    if route.kind == "set-down" and ws.group(leg.state, mate.part):
        text = f"{mate.part} carries what is built into it: how that would rest is not known"
        yield Failure("no place to set down", text, of=("set down", mate.part))
        return
    taken, placed = sifted(ws, leg, first, mate), sifted(ws, leg, last, mate)
    if not (taken.reaches_part and placed.reaches_home):
        pass  # no grasp reaches: nothing else need be tried
    elif route.kind == "direct":
        what = f"grasps of {mate.part} by the {first} hand"
        yield from within(
            ws.caps.grasps, _unless(spent, taken.both()), what,
            lambda g: unless_spent(spent, g, _direct(ws, leg, first, mate, g, seed)),
        )  # fmt: skip
    elif route.kind == "handover":
        what = f"grasps of {mate.part} by the {first} hand to pass it on"
        yield from within(
            ws.caps.givers, varied(taken.to_pick()), what,
            lambda a: _pairs(ws, leg, route, mate, a, placed.to_place(), seed, spent),
        )  # fmt: skip
    else:
        what = f"grasps of {mate.part} by the {first} hand to set it down"
        yield from within(
            ws.caps.givers, varied(taken.to_pick()), what,
            lambda a: set_down(ws, leg, first, last, mate, a, placed.to_place, seed, spent),
        )  # fmt: skip
    yield from taken.failures
    if placed is not taken:
        yield from placed.failures


def _unless(spent: Container[object], grasps: Iterator[Grasp]) -> Iterator[Grasp]:
    return (g for g in grasps if g not in spent)


def picked_up(ws: Workspace, leg: Leg, hand: str, mate: Mate, grasp: Grasp, seed: int) -> Legs:
    """Legs in which the hand has picked the part up, on a few branches of the arm.

    Where free paths are taken for granted one is enough: what comes after depends on the grasp alone.
    """
    ways = pick(ws, leg, hand, mate.part, grasp, mate.name, seed)
    if ws.dry:
        return first_leg(ways)
    return at_most(ws.caps.branches, ways, f"{ws.caps.branches} arm branches picking {mate.part}")


def _direct(ws: Workspace, leg: Leg, hand: str, mate: Mate, grasp: Grasp, seed: int) -> Legs:
    for picked in picked_up(ws, leg, hand, mate, grasp, seed):
        yield from [picked] if isinstance(picked, Failure) else place(ws, picked, hand, mate, grasp, seed)


def _pairs(
    ws: Workspace,
    leg: Leg,
    route: Route,
    mate: Mate,
    a: Grasp,
    placeable: Iterator[Grasp],
    seed: int,
    spent: Container[object],
) -> Legs:
    """Legs by handovers from one grasp of the giver."""
    failures: list[Failure] = []
    built_in = ws.group(leg.state, mate.part)

    def apart() -> Iterator[Grasp]:
        for b in _unless(spent, placeable):
            meet = grips_meet(ws, route.hands[0], a, route.last, b, built_in)
            if meet is None:
                yield b
            else:
                failures.append(meet)

    what = f"pairs of grasps to pass {mate.part} from {route.hands[0]} to {route.last}"
    yield from within(
        ws.caps.pairs, apart(), what,
        lambda b: unless_spent(spent, b, _passed(ws, leg, route, mate, a, b, seed)),
    )  # fmt: skip
    yield from failures


def _passed(ws: Workspace, leg: Leg, route: Route, mate: Mate, a: Grasp, b: Grasp, seed: int) -> Legs:
    giver, receiver = route.hands
    for picked in picked_up(ws, leg, giver, mate, a, seed):
        if isinstance(picked, Failure):
            yield picked
            continue
        ways = handover(ws, picked, giver, receiver, mate.part, a, b, mate.name, seed)
        few = ws.caps.meetings
        met = first_leg(ways) if ws.dry else at_most(few, ways, f"{few} meeting poses of {mate.part}")
        for passed in met:
            yield from [passed] if isinstance(passed, Failure) else place(ws, passed, receiver, mate, b, seed)
