"""The grasps of one hand on a part, sifted lazily: which can pick it up, which can take it home."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from functools import cached_property
from typing import Generic, TypeVar

import numpy as np

from handfast.mates.grasps import grasps, grip_widths
from handfast.model.feature import Feature
from handfast.model.grasp import Grasp
from handfast.model.gripper import Gripper
from handfast.model.mate import Mate
from handfast.planning.failure import Failure
from handfast.planning.leg import Leg
from handfast.planning.old_choices import grasps_in_order
from handfast.planning.pick import grip_poses, pick_blocked, pick_grips
from handfast.planning.place import goal, place_blocked, place_grips
from handfast.planning.state import State
from handfast.planning.station import from_shoulder, out_of_reach, reachable, stations
from handfast.planning.workspace import Workspace
from handfast.spatial.se3 import Array

T = TypeVar("T")


def sifted(ws: Workspace, leg: Leg, hand: str, mate: Mate) -> Sifted:
    """The grasps of a hand on the part of a mate as things stand, sifted once for all routes."""
    return leg.state.once(("sifted", hand, mate.name), lambda: Sifted(ws, leg.state, hand, mate))


class Sifted:
    """Each grasp is looked at once for picking and once for placing, when it is first asked for; failures:
    of those that were looked at and do not work, one for each look."""

    def __init__(self, ws: Workspace, state: State, hand: str, mate: Mate) -> None:
        item = ws.items[mate.part]
        self.ws, self.state, self.hand, self.mate = ws, state, hand, mate
        self.failures: list[Failure] = []
        mass = ws.mass(state, mate.part)
        self.every = grasps(ws.hands[hand].gripper, mate.part, item.features, mass, item.friction)
        if not self.every:
            self.failures.append(no_grasp(ws.hands[hand].gripper, mate.part, item.features))
        self.here = _At(ws, hand, mate.part, ws.pose(state, mate.part), self.every, "pick")
        order = grasps_in_order(ws.old, hand, mate.part, self.every)
        self.pickable: Kept[int] = Kept(k for k in order if self.picks(k))
        self.placeable: Kept[int] = Kept(k for k in order if self.places(k))

    @cached_property
    def home(self) -> _At:
        """The grasps where the part goes, which what it goes into has to be there for."""
        T_home = goal(self.ws, self.state, self.mate).T_world_home
        return _At(self.ws, self.hand, self.mate.part, T_home, self.every, "place")

    @property
    def reaches_part(self) -> bool:
        """Whether any grasp is within reach where the part lies; if none is, the failures say so."""
        return self.here.any_reached(self.failures)

    @property
    def reaches_home(self) -> bool:
        """The same where the part goes."""
        return self.home.any_reached(self.failures)

    def picks(self, k: int) -> bool:
        """Whether a grasp can reach and lift the part where it lies."""

        def look(T_grip: Array) -> Failure | None:
            self.ws.effort.spend(1)
            blocks = pick_blocked(self.ws, self.state, self.hand, self.mate.part, self.every[k])
            return blocks or self._no_branch(pick_grips(T_grip))

        return self.here.works(k, look, self.failures)

    def places(self, k: int) -> bool:
        """Whether a grasp can take the part home and let go of it."""

        def look(T_grip: Array) -> Failure | None:
            self.ws.effort.spend(1)
            aim = goal(self.ws, self.state, self.mate)
            blocks = place_blocked(self.ws, self.state, self.hand, self.mate, self.every[k])
            return blocks or self._no_branch(place_grips(T_grip, aim, self.mate))

        return self.home.works(k, look, self.failures)

    def both(self) -> Iterator[Grasp]:
        """Grasps that can pick the part up and take it home."""
        return (self.every[k] for k in self.pickable if self.places(k))

    def to_pick(self) -> Iterator[Grasp]:
        """Grasps that can pick the part up."""
        return (self.every[k] for k in self.pickable)

    def to_place(self) -> Iterator[Grasp]:
        """Grasps that can take the part home."""
        return (self.every[k] for k in self.placeable)

    def _no_branch(self, grips: list[Array]) -> Failure | None:
        """Whether the arm can make the straight lines on any branch, its links clear of everything."""
        failure = None
        near = self.state.q[self.hand]
        for lines in stations(self.ws, self.state, self.hand, grips, near, coarse=True):
            if not isinstance(lines, Failure):
                return None
            failure = lines
        return failure


class _At:
    """All grasps of a hand with the part in one place: which are within reach, which were found to work."""

    def __init__(
        self,
        ws: Workspace,
        hand: str,
        part: str,
        T_world_part: Array,
        every: tuple[Grasp, ...],
        stage: str,
    ) -> None:
        self.part, self.stage = part, stage
        self.hand, self.text = ws.hands[hand], f"{hand} hand to {part}"
        self.grips = grip_poses(T_world_part, every)
        self.reached = reachable(self.hand, self.grips) if every else np.zeros(0, dtype=bool)
        self.far: list[float] = from_shoulder(self.hand, self.grips).tolist()
        self.found: dict[int, bool] = {}

    def any_reached(self, failures: list[Failure]) -> bool:
        """Whether any grasp is within reach; if none is, the failures say so, once."""
        if not self.reached.any():
            for k in range(len(self.grips)):
                self.works(k, lambda T_grip: None, failures)
        return bool(self.reached.any())

    def works(self, k: int, look: Callable[[Array], Failure | None], failures: list[Failure]) -> bool:
        """Whether a grasp is within reach and `look` finds no failure, which it is asked for once."""
        if k not in self.found:
            T_grip = self.grips[k]
            of = (self.stage, self.hand.name, self.part, k)
            if self.reached[k]:
                failure = look(T_grip)
                failure = failure and replace(failure, of=of)
            else:
                failure = out_of_reach(self.hand, T_grip, self.text, of, self.far[k])
            self.found[k] = failure is None
            if failure is not None:
                failures.append(failure)
        return self.found[k]


class Kept(Generic[T]):
    """What an iterator gives, kept so that it can be gone through again."""

    def __init__(self, items: Iterator[T]) -> None:
        self._items, self._seen = items, list[T]()

    def __iter__(self) -> Iterator[T]:
        k = 0
        while True:
            if k == len(self._seen):
                for item in self._items:
                    self._seen.append(item)
                    break
                else:
                    return
            yield self._seen[k]
            k += 1


def varied(found: Iterable[Grasp]) -> Iterator[Grasp]:
    """Grasps in another order: first one for each zone, features and place on them, then the others."""
    kinds, others = set[tuple[object, ...]](), []
    for g in found:
        kind = (g.zone, g.features, g.closed, round(g.slip_torque, 6))
        if kind in kinds:
            others.append(g)
        else:
            kinds.add(kind)
            yield g
    yield from others


def no_grasp(gripper: Gripper, part: str, features: tuple[Feature, ...]) -> Failure:
    """Why a gripper has no grasp of a part at all."""
    widths, of = grip_widths(features), ("hold", gripper.name, part)
    if widths and widths[0] >= gripper.opening[1]:
        short = widths[0] - gripper.opening[1]
        what = (
            f"{part} is {widths[0] * 1e3:.1f} mm wide, {gripper.name} opens {gripper.opening[1] * 1e3:.1f} mm"
        )
        return Failure("jaw too narrow", what, short, of=of)
    what = f"{gripper.name} finds no shaft and no opposing faces on {part} that it can hold"
    return Failure("no grasp", what, of=of)
