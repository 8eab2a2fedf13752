"""Putting a part down to grasp it anew, turned over if need be."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from handfast.geometry.mesh import surface_points
from handfast.mates.resting import resting_poses
from handfast.model.grasp import Grasp
from handfast.model.mate import Mate
from handfast.planning.caps import first_leg, ran_out, within
from handfast.planning.failure import Failure
from handfast.planning.leg import Leg
from handfast.planning.pick import grip_pose, pick, pick_blocked
from handfast.planning.place import place
from handfast.planning.put import put
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
) -> Legs:
    """Legs in which the first hand, holding the part by grasp a, puts it down and the last grasps it as its
    mate needs it."""
    for picked in _any(ws, pick(ws, leg, first, mate.part, a, mate.name, seed)):
        if isinstance(picked, Failure):
            yield picked
            continue
        failures: list[Failure] = []
        spots = _served(ws, picked, last, mate, placeable, failures)
        yield from within(
            ws.caps.spots, spots, f"ways to set {mate.part} down",
            lambda spot, picked=picked: _by_way_of(ws, picked, first, last, mate, a, spot, seed),  # type: ignore[misc]
        )  # fmt: skip
        yield from failures


def _any(ws: Workspace, ways: Legs) -> Legs:
    """Where free paths are taken for granted, one way is as good as another."""
    return first_leg(ways) if ws.dry else ways


def _by_way_of(
    ws: Workspace, leg: Leg, first: str, last: str, mate: Mate, a: Grasp, spot: Spot, seed: int
) -> Legs:
    """Legs by one spot and one grasp there."""
    parent, T_parent_part, b = spot
    for down in _any(ws, put(ws, leg, first, a, parent, T_parent_part, mate.name, seed)):
        if isinstance(down, Failure):
            yield down
            continue
        for again in _any(ws, pick(ws, down, last, mate.part, b, mate.name, seed)):
            yield from [again] if isinstance(again, Failure) else place(ws, again, last, mate, b, seed)


def _served(
    ws: Workspace,
    leg: Leg,
    hand: str,
    mate: Mate,
    placeable: Grasps,
    failures: list[Failure],
) -> Iterator[Spot]:
    """Spots with grasps that can pick the part up from there and take it home, a few for each spot; failures
    says of the others what they lack."""
    few = ws.caps.again
    for parent, T_parent_part in _spots(ws, mate.part):
        count = 0
        for b in _regrasps(ws, leg, hand, mate.part, parent, T_parent_part, placeable):
            if count == few:
                failures.append(ran_out(f"{few} grasps of {mate.part} at each spot to set it down"))
                break
            yield parent, T_parent_part, b
            count += 1
        if not count:
            text = f"no grasp of {mate.part} there serves {mate.name}"
            failures.append(Failure("no place to set down", text))


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
    leg: Leg,
    hand: str,
    part: str,
    parent: str,
    T_parent_part: Array,
    placeable: Grasps,
) -> Iterator[Grasp]:
    """Grasps that can pick the part up from where it would lie, of those that can take it home."""
    state = leg.state.attached(part, parent, T_parent_part)
    T_part = ws.parent_pose(state, parent) @ T_parent_part
    for b in placeable():
        if reachable(ws.hands[hand], grip_pose(T_part, b)[None])[0] and not pick_blocked(
            ws, state, hand, part, b
        ):
            yield b


_Z = np.array([0.0, 0.0, 1.0])
