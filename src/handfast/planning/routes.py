"""How a part gets from where it lies to its mate: which hand, which grasp, with or without a handover."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from handfast.mates.grasps import grasps
from handfast.model.grasp import Grasp
from handfast.model.mate import Mate
from handfast.planning.fasten import drive, put_back, take_up
from handfast.planning.failure import Failure
from handfast.planning.handover import grips_apart, handover
from handfast.planning.leg import Leg
from handfast.planning.pick import grip_pose, pick, pick_blocked
from handfast.planning.place import goal, place, place_blocked
from handfast.planning.station import reachable
from handfast.planning.workspace import Workspace

_REALISED = 6  # grasps of one route that are carried through to motions before the next route is tried
_PAIRS = 12

Result = list[Leg | Failure]


def carry(ws: Workspace, leg: Leg, mate: Mate, seed: int) -> Iterator[Leg | Failure]:
    """Legs that bring a part home: one hand alone first, then with a handover."""
    state = leg.state
    free = [h for h in ws.hands if state.held_by(h) is None]
    item = ws.items[mate.part]
    taken: dict[str, list[Grasp]] = {}
    placed: dict[str, list[Grasp]] = {}
    for hand in free:
        every = grasps(ws.hands[hand].gripper, mate.part, item.features, item.mass, item.friction)
        if not every:
            yield Failure("no grasp", f"{mate.part} in {ws.hands[hand].gripper.name}")
        taken[hand], placed[hand] = [], []
        T_home = goal(ws, state, mate).T_world_home
        for grasp in every:
            yield from _sort(ws, leg, hand, mate, grasp, T_home, taken[hand], placed[hand])
    for hand in free:
        both = [g for g in taken[hand] if g in placed[hand]]
        yield from _realised(both[:_REALISED], lambda g, hand=hand: _direct(ws, leg, hand, mate, g, seed))
    for giver in free:
        for receiver in free:
            if giver != receiver:
                pairs = _pairs(ws, giver, taken[giver], receiver, placed[receiver])
                yield from _realised(pairs, lambda p, a=giver, b=receiver: _passed(ws, leg, a, b, mate, *p, seed))


def _sort(ws: Workspace, leg: Leg, hand: str, mate: Mate, grasp: Grasp, T_home: object, taken: list[Grasp],
          placed: list[Grasp]) -> Iterator[Failure]:  # fmt: skip
    """Into `taken` if the hand can pick with this grasp, into `placed` if it can go home with it."""
    state, h = leg.state, ws.hands[hand]
    for T_item, good, check in (
        (ws.pose(state, mate.part), taken, lambda: pick_blocked(ws, state, hand, mate.part, grasp)),
        (T_home, placed, lambda: place_blocked(ws, state, hand, mate, grasp)),
    ):
        if not reachable(h, grip_pose(T_item, grasp)[None])[0]:
            yield Failure("out of reach", f"{hand} hand to {mate.part}")
            continue
        failure = check()
        if isinstance(failure, Failure):
            yield failure
        else:
            good.append(grasp)


def _realised(candidates: list, realise: Callable[..., Result]) -> Iterator[Leg | Failure]:  # type: ignore[type-arg]
    for candidate in candidates:
        yield from realise(candidate)


def _direct(ws: Workspace, leg: Leg, hand: str, mate: Mate, grasp: Grasp, seed: int) -> Result:
    out: Result = []
    for picked in pick(ws, leg, hand, mate.part, grasp, mate.name, seed):
        out += [picked] if isinstance(picked, Failure) else place(ws, picked, hand, mate, grasp, seed)
    return out


def _pairs(ws: Workspace, giver: str, a: list[Grasp], receiver: str, b: list[Grasp]) -> list[tuple[Grasp, Grasp]]:
    """Pairs of grasps that leave room for each other. Rolls of the pair as a whole are the meeting pose's business, so
    only grasps that differ in more than a roll are paired."""
    out: list[tuple[Grasp, Grasp]] = []
    for grasp_a in _kinds(a):
        for grasp_b in b:
            if len(out) < _PAIRS and grips_apart(ws, giver, grasp_a, receiver, grasp_b):
                out.append((grasp_a, grasp_b))
    return out


def _kinds(found: list[Grasp]) -> list[Grasp]:
    """One grasp for each zone, features and place on them."""
    kinds: dict[tuple[object, ...], Grasp] = {}
    for g in found:
        kinds.setdefault((g.zone, g.features, g.closed, round(g.slip_torque, 6)), g)
    return list(kinds.values())


def _passed(ws: Workspace, leg: Leg, giver: str, receiver: str, mate: Mate, a: Grasp, b: Grasp, seed: int) -> Result:
    out: Result = []
    for picked in pick(ws, leg, giver, mate.part, a, mate.name, seed):
        if isinstance(picked, Failure):
            out.append(picked)
            continue
        for passed in handover(ws, picked, giver, receiver, mate.part, a, b, mate.name, seed):
            out += [passed] if isinstance(passed, Failure) else place(ws, passed, receiver, mate, b, seed)
            if out and isinstance(out[0], Leg):
                return out
    return out


def fasten(ws: Workspace, leg: Leg, mate: Mate, keep_tool: bool, seed: int) -> Iterator[Leg | Failure]:
    """Legs that fetch the tool, take up the screw, drive it, and bring the tool back unless it is needed next."""
    state = leg.state
    tool = ws.project.cell.tool(mate.tool or "")
    parent = state.scene.of(tool.name).parent
    for hand in ws.hands:
        held = state.held_by(hand)
        if held == tool.name:
            yield from _driven(ws, leg, hand, mate, grasp_in(leg, hand), parent, keep_tool, seed)
        elif held is None and parent.startswith("place."):
            item = ws.items[tool.name]
            for grasp in grasps(ws.hands[hand].gripper, tool.name, item.features, item.mass, item.friction):
                for picked in pick(ws, leg, hand, tool.name, grasp, mate.name, seed):
                    if isinstance(picked, Failure):
                        yield picked
                    else:
                        yield from _driven(ws, picked, hand, mate, grasp, parent, keep_tool, seed)


def _driven(ws: Workspace, leg: Leg, hand: str, mate: Mate, grasp: Grasp, parent: str, keep: bool, seed: int) -> Result:
    out: Result = []
    for taken in take_up(ws, leg, hand, mate, grasp, seed):
        if isinstance(taken, Failure):
            out.append(taken)
            continue
        for driven in drive(ws, taken, hand, mate, grasp, seed):
            if isinstance(driven, Failure) or keep:
                out.append(driven)
            else:
                out += put_back(ws, driven, hand, grasp, parent, mate.name, seed)
    return sorted(out, key=lambda r: isinstance(r, Failure))


def grasp_in(leg: Leg, hand: str) -> Grasp:
    """How a hand holds what it holds: its last grasp. Raises LookupError if it never grasped."""
    for e in reversed(leg.elements):
        if e.hand == hand and e.grasp is not None:
            return e.grasp
    raise LookupError(f"the {hand} hand has not grasped anything")
