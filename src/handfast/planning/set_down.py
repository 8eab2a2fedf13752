"""Putting a part down to grasp it anew, turned over if need be."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np

from handfast.geometry.mesh import surface_points
from handfast.mates.resting import resting_poses
from handfast.model.grasp import Grasp
from handfast.model.mate import Mate
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
_SPOTS = 24  # resting poses, turns and grasps that are carried through before the route is given up


def set_down(
    ws: Workspace,
    leg: Leg,
    first: str,
    last: str,
    mate: Mate,
    taken: Iterable[Grasp],
    placeable: list[Grasp],
    seed: int,
) -> Iterator[Leg | Failure]:
    """Legs in which the first hand puts the part down and the last grasps it as its mate needs it."""
    tried = 0
    for a in taken:
        for picked in pick(ws, leg, first, mate.part, a, mate.name, seed):
            if isinstance(picked, Failure):
                yield picked
                continue
            for parent, T_parent_part in _spots(ws, mate.part):
                b = _regrasp(ws, picked, last, mate.part, parent, T_parent_part, placeable)
                if b is None:
                    yield Failure("no place to set down", f"no grasp of {mate.part} there serves {mate.name}")
                    continue
                for down in put(ws, picked, first, a, parent, T_parent_part, mate.name, seed):
                    if isinstance(down, Failure):
                        yield down
                        continue
                    tried += 1
                    if tried > _SPOTS:
                        yield Failure("not found within the cap", f"{_SPOTS} ways to set {mate.part} down")
                        return
                    for again in pick(ws, down, last, mate.part, b, mate.name, seed):
                        yield from (
                            [again] if isinstance(again, Failure) else place(ws, again, last, mate, b, seed)
                        )


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


def _regrasp(
    ws: Workspace, leg: Leg, hand: str, part: str, parent: str, T_parent_part: Array, placeable: list[Grasp]
) -> Grasp | None:
    """A grasp that can pick the part up from where it would lie and take it home."""
    if not placeable:
        return None
    state = leg.state.attached(part, parent, T_parent_part)
    T_part = ws.parent_pose(state, parent) @ T_parent_part
    reach = reachable(ws.hands[hand], np.array([grip_pose(T_part, b) for b in placeable]))
    for b, ok in zip(placeable, reach, strict=True):
        if ok and not isinstance(pick_blocked(ws, state, hand, part, b), Failure):
            return b
    return None


_Z = np.array([0.0, 0.0, 1.0])
