"""Where the hands stop, read from the motions of a chart."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.motion import Motion
from handfast.model.project import Project
from handfast.spatial import se3
from handfast.spatial.se3 import Array

# T_world_grip at the end of an element's motions, by element id; of a touch: at the start of its guarded move.
HandPoses = Mapping[str, Array]


def hand_poses(project: Project, chart: Chart) -> HandPoses:
    """T_world_grip of every element that has motions, by forward kinematics of its last knot.

    Of a `locate` element the last motion is the way back and the one before it the guarded move: there the pose is that
    at its start.
    """
    from handfast.kinematics.chain import load_chain
    from handfast.kinematics.forward import forward

    poses: dict[str, Array] = {}
    for arm in project.cell.arms:
        stops = [(e.id, _stop(e)) for e in chart.elements if e.hand == arm.name and e.motions]
        if stops:
            tips = forward(load_chain(arm, project.folder), np.array([q for _, q in stops]))
            mount = project.cell.gripper_of(arm.name).mount.matrix
            poses |= {name: tip @ mount for (name, _), tip in zip(stops, tips, strict=True)}
    return poses


def contact_pose(T_world_grip: Array, T_world_face: Array, direction: Array, travel: float) -> Array:
    """T_world_grip where contact is expected: the start of the guarded move, moved on by `travel` [m].

    direction: unit (3,) in the frame of the touched face.
    """
    step = T_world_face[:3, :3] @ direction * travel
    return np.asarray(se3.translation(*(float(v) for v in step)) @ T_world_grip)


def _stop(element: Element) -> tuple[float, ...]:
    if element.kind == "locate" and len(element.motions) >= 2:
        guarded: Motion = element.motions[-2]
        return guarded.q[0]
    return element.motions[-1].q[-1]
