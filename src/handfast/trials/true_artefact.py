"""Where an artefact really stands, and where closed fingers or a bit on their way really meet its ball."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from handfast.execution.cell import CellError
from handfast.model.artefact import Artefact
from handfast.model.shape import Cylinder
from handfast.model.tool import Tool, bit_solids
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.trials.true_cell import TrueCell

_UP = 0.25  # a foot stands on something: it is off this much less upwards than sideways
_STEPS = 60
_FAR = 0.2  # no guarded move is longer [m]

Near = Callable[[float, float, float], float]
"""How far something that is convex is from a point given in its own frame [m]."""


@dataclass(frozen=True, slots=True)
class Ball:
    """middle: in the world (3,) [m]; radius [m]."""

    middle: Array
    radius: float


def set_down(cell: TrueCell, item: str, region: str, count: int) -> Ball | None:
    """Where a person really sets an artefact down, None if it is taken away. count: how often one was set
    down before. Raises CellError for what there is not."""
    artefact = next((a for a in cell.project.cell.artefacts if a.name == item), None)
    if artefact is None:
        known = ", ".join(a.name for a in cell.project.cell.artefacts) or "none"
        raise CellError(f"there is no artefact {item!r}; there are: {known}")
    return _stood(cell, artefact, region, count) if region else None


def _stood(cell: TrueCell, artefact: Artefact, region: str, count: int) -> Ball:
    name = region.removeprefix(f"stand.{artefact.name}.")
    stand = next((s for s in artefact.stands if s.name == name), None)
    if stand is None or name == region:
        known = ", ".join(f"stand.{artefact.name}.{s.name}" for s in artefact.stands)
        raise CellError(f"{artefact.name} has no {region!r} to stand in; there are: {known}")
    half = artefact.slack * np.array([1.0, 1.0, _UP])
    off = cell.draws.uniform(half, "artefact", artefact.name, name, str(count))
    return Ball(artefact.ball_at(stand) + off, artefact.radius)


def fingers_meet(cell: TrueCell, arm: str, T_world_jaws: Array, direction: Array, ball: Ball) -> float | None:
    """How far the fingers, jaws at T_world_jaws (4, 4), go along `direction` (3,) until one meets the ball
    [m]; None: they pass it."""
    gripper = cell.project.cell.gripper_of(arm)
    x, y, z = gripper.finger_size
    aside = cell.hands[arm].width / 2 + y / 2
    finger = _box(x / 2, y / 2, z / 2)
    found = [
        _meets(finger, T_world_jaws @ se3.translation(0.0, s * aside, -z / 2), direction, ball, 0.0)
        for s in (1, -1)
    ]
    return min((f for f in found if f is not None), default=None)


def bit_meets(cell: TrueCell, tool: Tool, T_world_tool: Array, direction: Array, ball: Ball) -> float | None:
    """The same for the bit of a tool, which runs out about its spindle."""
    runs_out = cell.T_tool_bit(tool) @ se3.inverse(tool.bit.matrix)
    found = []
    for solid in bit_solids(tool):
        if isinstance(solid.shape, Cylinder):
            T = T_world_tool @ runs_out @ solid.pose.matrix
            found.append(_meets(_rod(solid.shape.length / 2), T, direction, ball, solid.shape.radius))
    return min((f for f in found if f is not None), default=None)


def _box(x: float, y: float, z: float) -> Near:
    """A box of these half edges about its frame."""

    def near(a: float, b: float, c: float) -> float:
        return math.hypot(max(abs(a) - x, 0.0), max(abs(b) - y, 0.0), max(abs(c) - z, 0.0))

    return near


def _rod(half: float) -> Near:
    """The axis of a cylinder of this half length."""

    def near(a: float, b: float, c: float) -> float:
        return math.hypot(a, b, max(abs(c) - half, 0.0))

    return near


def _meets(near: Near, T_world_own: Array, direction: Array, ball: Ball, thick: float) -> float | None:
    """The first travel at which what is `near` is met by the ball; the distance along the way is convex."""
    back, need = se3.inverse(T_world_own), ball.radius + thick
    x, y, z = (float(v) for v in back[:3, :3] @ ball.middle + back[:3, 3])
    u, v, w = (float(c) for c in back[:3, :3] @ direction)

    def gap(travel: float) -> float:
        return near(x - travel * u, y - travel * v, z - travel * w) - need

    low, high = 0.0, _FAR
    for _ in range(_STEPS):  # the nearest point of the way
        a, b = low + (high - low) / 3, high - (high - low) / 3
        low, high = (low, b) if gap(a) <= gap(b) else (a, high)
    nearest = (low + high) / 2
    if gap(nearest) > 0:
        return None
    low, high = 0.0, nearest
    for _ in range(_STEPS):
        middle = (low + high) / 2
        low, high = (middle, high) if gap(middle) > 0 else (low, middle)
    return high
