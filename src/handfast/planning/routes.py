"""How a part gets from where it lies to its mate: which hand, which grasp, with or without a handover."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import islice

import numpy as np

from handfast.mates.grasps import grasps, grip_widths
from handfast.model.feature import Feature
from handfast.model.grasp import Grasp
from handfast.model.gripper import Gripper
from handfast.model.mate import Mate
from handfast.planning.failure import Failure
from handfast.planning.fasten import Round, drive, take_up
from handfast.planning.handover import grips_apart, handover
from handfast.planning.leg import Leg
from handfast.planning.pick import grip_pose, pick, pick_blocked, pick_grips
from handfast.planning.place import goal, place, place_blocked, place_grips
from handfast.planning.route import Route
from handfast.planning.set_down import set_down
from handfast.planning.station import beyond_reach, reachable, stations
from handfast.planning.touch_move import touch_first
from handfast.planning.workspace import Workspace
from handfast.spatial.se3 import Array

_REALISED = 6  # grasps of one route that are carried through to motions before the next route is tried
_PAIRS = 6  # pairs of grasps for a handover, for each way the giver holds the part
_BRANCHES = 2  # arm branches of a pick that are carried on with
_MEETINGS = 3  # meeting poses that are carried on with


def carry(ws: Workspace, leg: Leg, mate: Mate, route: Route, seed: int) -> Iterator[Leg | Failure]:
    """Legs that bring a part home by one route, the surest grasps first."""
    first, last = route.hands[0], route.last
    busy = [h for h in set(route.hands) if leg.state.held_by(h) is not None]
    if busy:
        yield Failure("hand is taken", f"the {busy[0]} hand holds {leg.state.held_by(busy[0])}")
        return
    taken, placed = _Sorted(ws, leg, first, mate), _Sorted(ws, leg, last, mate)
    if not (
        taken.reaches(ws.pose(leg.state, mate.part))
        and placed.reaches(goal(ws, leg.state, mate).T_world_home)
    ):
        pass  # no grasp reaches: nothing else need be tried
    elif route.kind == "direct":
        for grasp in islice(placed.also(taken.pickable()), _REALISED):
            yield from _direct(ws, leg, first, mate, grasp, seed)
    elif route.kind == "handover":
        for a in _kinds(list(taken.pickable())):
            pairs = 0
            for b in placed.placeable():
                if pairs < _PAIRS and grips_apart(ws, first, a, last, b):
                    pairs += 1
                    yield from _passed(ws, leg, first, last, mate, a, b, seed)
    else:
        yield from set_down(
            ws, leg, first, last, mate, _kinds(list(taken.pickable())), list(placed.placeable()), seed
        )
    yield from taken.failures
    yield from placed.failures


class _Sorted:
    """The grasps of one hand on a part, sorted lazily into those that can pick it up and those that can take
    it home."""

    def __init__(self, ws: Workspace, leg: Leg, hand: str, mate: Mate) -> None:
        item = ws.items[mate.part]
        self.ws, self.leg, self.hand, self.mate = ws, leg, hand, mate
        self.failures: list[Failure] = []
        self.every = grasps(ws.hands[hand].gripper, mate.part, item.features, item.mass, item.friction)
        if not self.every:
            self.failures.append(no_grasp(ws.hands[hand].gripper, mate.part, item.features))

    def reaches(self, T_item: Array) -> bool:
        """Whether any grasp of the part at a world pose is within the arm's reach; if none is, the failures
        say so."""
        if not self.every:
            return False
        grips = np.array([grip_pose(T_item, g) for g in self.every])
        if reachable(self.ws.hands[self.hand], grips).any():
            return True
        self.failures += [self._too_far(T_grip) for T_grip in grips]
        return False

    def _too_far(self, T_grip: Array) -> Failure:
        short = beyond_reach(self.ws.hands[self.hand], T_grip)
        return Failure("out of reach", f"{self.hand} hand to {self.mate.part}", short)

    def _no_branch(self, grips: list[Array]) -> Failure | None:
        """Whether the arm can make the straight lines on any branch, its links clear of everything."""
        failure = None
        near = self.leg.state.q[self.hand]
        for lines in stations(self.ws, self.leg.state, self.hand, grips, near, coarse=True):
            if not isinstance(lines, Failure):
                return None
            failure = lines
        return failure

    def pickable(self) -> Iterator[Grasp]:
        """Grasps that can reach and lift the part where it lies."""
        state, ws = self.leg.state, self.ws
        T_item = ws.pose(state, self.mate.part)
        yield from self._passing(
            iter(self.every),
            T_item,
            lambda g: pick_blocked(ws, state, self.hand, self.mate.part, g),
            pick_grips,
        )

    def placeable(self) -> Iterator[Grasp]:
        """Grasps that can take the part home and let go of it."""
        return self.also(iter(self.every))

    def also(self, candidates: Iterator[Grasp]) -> Iterator[Grasp]:
        """Of some grasps those that can take the part home and let go of it."""
        state, ws = self.leg.state, self.ws
        aim = goal(ws, state, self.mate)
        yield from self._passing(
            candidates,
            aim.T_world_home,
            lambda g: place_blocked(ws, state, self.hand, self.mate, g),
            lambda T: place_grips(T, aim, self.mate),
        )

    def _passing(
        self,
        candidates: Iterator[Grasp],
        T_item: Array,
        check: Callable[[Grasp], Failure | None],
        lines: Callable[[Array], list[Array]],
    ) -> Iterator[Grasp]:
        for grasp in candidates:
            T_grip = grip_pose(T_item, grasp)
            if reachable(self.ws.hands[self.hand], T_grip[None])[0]:
                failure = check(grasp) or self._no_branch(lines(T_grip))
            else:
                failure = self._too_far(T_grip)
            if failure is None:
                yield grasp
            else:
                self.failures.append(failure)


def no_grasp(gripper: Gripper, part: str, features: tuple[Feature, ...]) -> Failure:
    """Why a gripper has no grasp of a part at all."""
    widths = grip_widths(features)
    if widths and widths[0] >= gripper.opening[1]:
        short = widths[0] - gripper.opening[1]
        what = (
            f"{part} is {widths[0] * 1e3:.1f} mm wide, {gripper.name} opens {gripper.opening[1] * 1e3:.1f} mm"
        )
        return Failure("jaw too narrow", what, short)
    return Failure(
        "no grasp", f"{gripper.name} finds no shaft and no opposing faces on {part} that it can hold"
    )


def _direct(
    ws: Workspace, leg: Leg, hand: str, mate: Mate, grasp: Grasp, seed: int
) -> Iterator[Leg | Failure]:
    for picked in at_most(_BRANCHES, pick(ws, leg, hand, mate.part, grasp, mate.name, seed)):
        yield from [picked] if isinstance(picked, Failure) else place(ws, picked, hand, mate, grasp, seed)


def at_most(legs: int, results: Iterator[Leg | Failure]) -> Iterator[Leg | Failure]:
    """Results up to so many legs: other branches of the same grasp rarely help where the first ones did
    not."""
    for result in results:
        yield result
        legs -= isinstance(result, Leg)
        if legs == 0:
            return


def _kinds(found: list[Grasp]) -> list[Grasp]:
    """One grasp for each zone, features and place on them."""
    kinds: dict[tuple[object, ...], Grasp] = {}
    for g in found:
        kinds.setdefault((g.zone, g.features, g.closed, round(g.slip_torque, 6)), g)
    return list(kinds.values())


def _passed(
    ws: Workspace, leg: Leg, giver: str, receiver: str, mate: Mate, a: Grasp, b: Grasp, seed: int
) -> Iterator[Leg | Failure]:
    for picked in at_most(_BRANCHES, pick(ws, leg, giver, mate.part, a, mate.name, seed)):
        if isinstance(picked, Failure):
            yield picked
            continue
        for passed in at_most(
            _MEETINGS, handover(ws, picked, giver, receiver, mate.part, a, b, mate.name, seed)
        ):
            yield from [passed] if isinstance(passed, Failure) else place(ws, passed, receiver, mate, b, seed)


def fetch(ws: Workspace, leg: Leg, mate: Mate, hand: str, seed: int) -> Iterator[Leg | Failure]:
    """Legs after which the hand has the mate's tool: taken from its stand, or kept from before."""
    tool = ws.project.cell.tool(mate.tool or "")
    held = leg.state.held_by(hand)
    if held == tool.name:
        yield leg
    elif held is not None:
        yield Failure("hand is taken", f"the {hand} hand holds {held}")
    else:
        item = ws.items[tool.name]
        every = grasps(ws.hands[hand].gripper, tool.name, item.features, item.mass, item.friction)
        if not every:
            yield no_grasp(ws.hands[hand].gripper, tool.name, item.features)
        for grasp in every:
            yield from at_most(1, pick(ws, leg, hand, tool.name, grasp, mate.name, seed))


def start_screw(
    ws: Workspace, leg: Leg, hand: str, mate: Mate, turn: Round, seed: int
) -> Iterator[Leg | Failure]:
    """Legs that take a screw up from where it waits and drive it as far as `turn` says."""
    grasp = grasp_in(leg, hand)
    for taken in at_most(
        1, take_up(ws, leg, hand, mate, grasp, seed)
    ):  # how the screw is turned on the bit is all one
        if isinstance(taken, Failure):
            yield taken
            continue
        home = goal(ws, taken.state, mate).T_world_home
        yield from touch_first(
            ws, taken, hand, mate, grasp, home, seed,
            lambda touched: drive(ws, touched, hand, mate, grasp, turn, seed),
        )  # fmt: skip


def grasp_in(leg: Leg, hand: str) -> Grasp:
    """How a hand holds what it holds: its last grasp. Raises LookupError if it never grasped."""
    for e in reversed(leg.elements):
        if e.hand == hand and e.grasp is not None:
            return e.grasp
    raise LookupError(f"the {hand} hand has not grasped anything")
