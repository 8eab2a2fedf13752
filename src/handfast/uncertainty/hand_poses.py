"""Where the hands stop, read from the motions of a chart."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.project import Project
from handfast.spatial.se3 import Array

# T_world_grip at the end of an element's motions, by element id; of a touch: where contact is expected.
HandPoses = Mapping[str, Array]


def hand_poses(project: Project, chart: Chart) -> HandPoses:
    """T_world_grip of every element that has motions, by forward kinematics of its last knot.

    Of a `locate` element: at the end of its guarded move, where contact is expected.
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


def _stop(element: Element) -> tuple[float, ...]:
    last = element.guarded if element.guarded is not None else -1
    return element.motions[last].q[-1]
