"""Putting a part down to grasp it anew, turned over if need be."""

from __future__ import annotations

from collections.abc import Callable, Container, Iterator

import numpy as np

from handfast.geometry.mesh import surface_points
from handfast.mates.resting import resting_poses
from handfast.model.grasp import Grasp
from handfast.model.mate import Mate
from handfast.planning.caps import at_most, first_leg, ran_out, within
from handfast.planning.failure import Failure
from handfast.planning.leg import Leg
from handfast.planning.pick import grip_pose, pick, pick_blocked
from handfast.planning.place import place
from handfast.planning.put import put
from handfast.planning.sifted import Kept
from handfast.planning.state import State
from handfast.planning.station import reachable
from handfast.planning.workspace import Workspace
from handfast.spatial import se3
from handfast.spatial.se3 import Array

_YAWS = 4
Legs = Iterator[Leg | Failure]
Grasps = Callable[[], Iterator[Grasp]]
Spot = tuple[str, Array, Grasp]


def set_down(
    ws: Workspace,
    leg: Leg,
    first: str,
    last: str,
    mate: Mate,
    a: Grasp,
    placeable: Grasps,
    seed: int,
    spent: Container[object],
) -> Legs:
    """Legs in which the first hand, holding the part by grasp a, puts it down and the last grasps it as its
    mate needs it. spent: grasps by which no more legs are wanted."""
    served = _served(ws, leg.state, first, last, mate, placeable)
    for picked in _few(ws, pick(ws, leg, first, mate.part, a, mate.name, seed), f"picking {mate.part}"):
        if isinstance(picked, Failure):
            yield picked
            continue
        spots = (s for s in served.spots if s[2] not in spent)
        yield from within(
            ws.caps.spots, spots, f"ways to set {mate.part} down",
            lambda spot, picked=picked: unless_spent(  # type: ignore[misc]
                spent, spot[2], _by_way_of(ws, picked, first, last, mate, a, spot, seed)
            ),
        )  # fmt: skip
        yield from served.failures


def _few(ws: Workspace, ways: Legs, doing: str) -> Legs:
    """By a few branches of the arm; where free paths are taken for granted, one is as good as another."""
    few = ws.caps.branches
    return first_leg(ways) if ws.dry else at_most(few, ways, f"{few} arm branches {doing}")


def unless_spent(spent: Container[object], grasp: Grasp, ways: Legs) -> Legs:
    """The ways by a grasp, as long as more are wanted."""
    while grasp not in spent and (way := next(ways, None)) is not None:
        yield way


def _by_way_of(
    ws: Workspace, leg: Leg, first: str, last: str, mate: Mate, a: Grasp, spot: Spot, seed: int
) -> Legs:
    """Legs by one spot and one grasp there."""
    parent, T_parent_part, b = spot
    for down in _few(
        ws, put(ws, leg, first, a, parent, T_parent_part, mate.name, seed), f"putting {mate.part} down"
    ):
        if isinstance(down, Failure):
            yield down
            continue
        for again in _few(ws, pick(ws, down, last, mate.part, b, mate.name, seed), f"picking {mate.part}"):
            yield from [again] if isinstance(again, Failure) else place(ws, again, last, mate, b, seed)


class _Served:
    """Spots with grasps that can pick the part up from there and take it home, a few for each spot, found as
    they are asked for; failures: what the others lack."""

    def __init__(
        self, ws: Workspace, state: State, first: str, last: str, mate: Mate, grasps: Grasps
    ) -> None:
        self.failures: list[Failure] = []
        self.spots: Kept[Spot] = Kept(self._found(ws, state, first, last, mate, grasps))

    def _found(
        self, ws: Workspace, state: State, first: str, last: str, mate: Mate, grasps: Grasps
    ) -> Iterator[Spot]:
        few = ws.caps.again
        for n, (parent, T_parent_part) in enumerate(_spots(ws, mate.part)):
            count = 0
            for b in _regrasps(ws, state, first, last, mate.part, parent, T_parent_part, grasps):
                if count == few:
                    self.failures.append(ran_out(f"{few} grasps of {mate.part} at each spot to set it down"))
                    break
                yield parent, T_parent_part, b
                count += 1
            if not count:
                text = f"no grasp of {mate.part} there serves {mate.name}"
                self.failures.append(
                    Failure("no place to set down", text, of=("set down", last, mate.name, n))
                )


def _served(ws: Workspace, state: State, first: str, last: str, mate: Mate, grasps: Grasps) -> _Served:
    """The same spots for every grasp that the part is brought by, worked out once."""
    key = ("spots", first, last, mate.name, str(ws.caps.again))
    return state.once(key, lambda: _Served(ws, state, first, last, mate, grasps))


def _spots(ws: Workspace, part: str) -> Iterator[tuple[str, Array]]:
    """Places to set down and T_place_part there: each free place, resting pose and turn about the
    vertical."""
    record = ws.project.product.part(part)
    points = surface_points(record.solids, ws.project.folder)
    rests = resting_poses(points, np.array(record.centre_of_mass))
    for holder in ws.project.cell.holders:
        if holder.kind == "set-down":
            for spot in holder.places:
                for rest in rests:
                    for yaw in np.arange(_YAWS) * 2 * np.pi / _YAWS:
                        yield f"place.{holder.name}.{spot.name}", se3.rotation(_Z, yaw) @ rest.T_surface_part


def _regrasps(
    ws: Workspace,
    state: State,
    first: str,
    last: str,
    part: str,
    parent: str,
    T_parent_part: Array,
    grasps: Grasps,
) -> Iterator[Grasp]:
    """Grasps that can pick the part up from where it would lie, of those that can take it home. The hand that
    brought it may stand anywhere by then, so it is left out."""
    there = state.attached(part, parent, T_parent_part)
    T_part = ws.parent_pose(there, parent) @ T_parent_part
    gone = first if first != last else None
    for b in grasps():
        if reachable(ws.hands[last], grip_pose(T_part, b)[None])[0] and not pick_blocked(
            ws, there, last, part, b, gone
        ):
            yield b


_Z = np.array([0.0, 0.0, 1.0])
