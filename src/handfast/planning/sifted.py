"""The grasps of one hand on a part, sifted lazily: which can pick it up, which can take it home."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Generic, TypeVar

import numpy as np

from handfast.mates.grasps import grasps, grip_widths
from handfast.model.feature import Feature
from handfast.model.grasp import Grasp
from handfast.model.gripper import Gripper
from handfast.model.mate import Mate
from handfast.planning.failure import Failure
from handfast.planning.leg import Leg
from handfast.planning.pick import grip_pose, pick_blocked, pick_grips
from handfast.planning.place import goal, place_blocked, place_grips
from handfast.planning.station import out_of_reach, reachable, stations
from handfast.planning.workspace import Workspace
from handfast.spatial.se3 import Array

T = TypeVar("T")


class Sifted:
    """Each grasp is looked at once for picking and once for placing, when it is first asked for; failures:
    of those that were looked at and do not work, one each."""

    def __init__(self, ws: Workspace, leg: Leg, hand: str, mate: Mate) -> None:
        item = ws.items[mate.part]
        self.ws, self.leg, self.hand, self.mate = ws, leg, hand, mate
        self.failures: list[Failure] = []
        self.every = grasps(ws.hands[hand].gripper, mate.part, item.features, item.mass, item.friction)
        if not self.every:
            self.failures.append(no_grasp(ws.hands[hand].gripper, mate.part, item.features))
        self.pickable: Kept[Grasp] = Kept(self._pickable())
        self.placeable: Kept[Grasp] = Kept(self.also(self.every))

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

    def also(self, candidates: Iterable[Grasp]) -> Iterator[Grasp]:
        """Of some grasps those that can take the part home and let go of it."""
        state, ws = self.leg.state, self.ws
        aim = goal(ws, state, self.mate)
        yield from self._passing(
            candidates,
            aim.T_world_home,
            lambda g: place_blocked(ws, state, self.hand, self.mate, g),
            lambda T: place_grips(T, aim, self.mate),
        )

    def _pickable(self) -> Iterator[Grasp]:
        """Grasps that can reach and lift the part where it lies."""
        state, ws = self.leg.state, self.ws
        yield from self._passing(
            self.every,
            ws.pose(state, self.mate.part),
            lambda g: pick_blocked(ws, state, self.hand, self.mate.part, g),
            pick_grips,
        )

    def _passing(
        self,
        candidates: Iterable[Grasp],
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

    def _too_far(self, T_grip: Array) -> Failure:
        return out_of_reach(self.ws.hands[self.hand], T_grip, f"{self.hand} hand to {self.mate.part}")

    def _no_branch(self, grips: list[Array]) -> Failure | None:
        """Whether the arm can make the straight lines on any branch, its links clear of everything."""
        failure = None
        near = self.leg.state.q[self.hand]
        for lines in stations(self.ws, self.leg.state, self.hand, grips, near, coarse=True):
            if not isinstance(lines, Failure):
                return None
            failure = lines
        return failure


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


def varied(found: Iterable[Grasp]) -> list[Grasp]:
    """Grasps in another order: first one for each zone, features and place on them, then the others."""
    kinds: dict[tuple[object, ...], Grasp] = {}
    others = []
    for g in found:
        if kinds.setdefault((g.zone, g.features, g.closed, round(g.slip_torque, 6)), g) is not g:
            others.append(g)
    return [*kinds.values(), *others]


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
