"""How far flange and fingers of a simulated cell give under what they carry and press."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from handfast.model.project import Project
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.trials.draw import Draws

_FALL = 9.80665  # [m/s2]


@dataclass(frozen=True, eq=False, slots=True)
class Pull:
    """A force (3,) [N] at a point (3,) [m], both in the world."""

    force: Array
    point: Array


def weights(project: Project, carried: dict[str, Array]) -> Iterator[Pull]:
    """Of what a hand carries: T_world_item by name."""
    for part in project.product.parts:
        if part.name in carried:
            yield Pull(np.array([0, 0, -_FALL * part.mass]), _at(carried[part.name], part.centre_of_mass))
    for tool in project.cell.tools:
        if tool.name in carried:
            yield Pull(np.array([0, 0, -_FALL * tool.mass]), _at(carried[tool.name], (0.0, 0.0, 0.0)))


def gives(draws: Draws, edge: str, T_world_frame: Array, pulls: list[Pull]) -> Array:
    """Where a frame goes under the pulls, told in itself (4, 4)."""
    out, R = np.eye(4), T_world_frame[:3, :3]
    for source in draws.sources:
        if source.acts_on == edge and pulls:
            force = sum((p.force for p in pulls), np.zeros(3))
            turning = sum((np.cross(p.point - T_world_frame[:3, 3], p.force) for p in pulls), np.zeros(3))
            compliance = np.array(source.compliance) + draws.twist(source)
            out = out @ se3.exp(compliance * np.concatenate([R.T @ force, R.T @ turning]))
    return np.asarray(out)


def _at(T: Array, point: tuple[float, float, float]) -> Array:
    return np.asarray(T[:3, :3] @ np.array(point) + T[:3, 3])
