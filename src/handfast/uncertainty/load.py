"""How flange and fingers give under what they carry and press.

The load is what the chart knows: the weight of the held part or tool and of all that is joined to it, the
force of a guarded move at its contact, the force with which a screw is pressed. The deviation is compliance
times load in the frame in which the compliance is told; its mean is where the hand hangs on average, its
spread that of the compliance. Stiffness off the diagonal, and how an arm's changes with its posture, are left
out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np

from handfast.model.error_source import ErrorSource
from handfast.model.project import Project
from handfast.spatial.se3 import Array
from handfast.uncertainty.chain_state import State
from handfast.uncertainty.error_form import Form
from handfast.uncertainty.instances import Draws
from handfast.uncertainty.sources import instance_of

GRAVITY = 9.80665
# A force (3,) [N] and its moment about the world's origin (3,) [N m].
Wrench = Array
NO_LOAD: Wrench = np.zeros(6)


def pressing(point: Array, force: Array) -> Wrench:
    """A force (3,) [N] at a point (3,) [m] of the world."""
    return np.concatenate([force, np.cross(point, force)])


def weight(project: Project, state: State, item: str, T_world_item: Array) -> Wrench:
    """Of an item at a pose, and of everything joined to it."""
    total = NO_LOAD
    for mass, centre in _masses(project, state, item, T_world_item):
        total = total + pressing(centre, np.array([0.0, 0.0, -GRAVITY * mass]))
    return total


def _masses(project: Project, state: State, item: str, T_world_item: Array) -> Iterator[tuple[float, Array]]:
    parts = {p.name: (p.mass, p.centre_of_mass) for p in project.product.parts}
    tools = {t.name: (t.mass, (0.0, 0.0, 0.0)) for t in project.cell.tools}
    mass, centre = {**tools, **parts}[item]
    yield mass, (T_world_item @ np.array([*centre, 1.0]))[:3]
    for child, attachment in state.parents.items():
        if attachment.parent in (f"part.{item}", f"tool.{item}"):
            bit = state.bits.get(item) if attachment.parent.startswith("tool.") else None
            T_item_child = attachment.pose.matrix if bit is None else bit @ attachment.pose.matrix
            yield from _masses(project, state, child, T_world_item @ T_item_child)


def given_way(
    sources: Iterable[ErrorSource], draws: Draws, T_world_frame: Array, load: Wrench, stop: str
) -> Form:
    """Twist of a frame, in that frame, of everything that gives there under a load."""
    turned, at = T_world_frame[:3, :3].T, T_world_frame[:3, 3]
    force, moment = load[:3], load[3:] - np.cross(at, load[:3])
    local = np.concatenate([turned @ force, turned @ moment])
    listed = list(sources)
    mean = sum((np.array(s.compliance) * local for s in listed), np.zeros(6))
    keys = [instance_of(s, stop) for s in listed]
    places = {key: frozenset((stop,)) for key in keys}
    return Form({key: np.diag(local) for key in keys}, mean, places, draws)
