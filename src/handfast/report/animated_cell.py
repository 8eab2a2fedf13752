"""The cell with both arms moving, as one binary glTF file that any viewer of that standard plays."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from handfast.kinematics.chain import Chain
from handfast.model.chart import Chart
from handfast.model.project import Project
from handfast.page.cell_bodies import cell_bodies
from handfast.page.glb_writer import Body, Track, write_glb
from handfast.page.moment import Placed, placed
from handfast.spatial import se3
from handfast.spatial.se3 import Array

PERIOD = 0.04  # between poses; viewers go straight from one to the next [s]
_FINGER = ":finger"


def animated_cell(project: Project, chart: Chart, chains: dict[str, Chain]) -> bytes:
    """The file. Nodes are named like the bodies of the cell ("part:pin", "arm:left:link:2"). Poses are those
    of the chart's forward kinematics at their times; a part changes what it hangs on between two times
    that are 1 ms apart. Raises ArmError or MeshError if the cell cannot be read."""
    bodies = [b for body in cell_bodies(project) for b in _both_fingers(body)]
    times = _times(chart)
    moments = [placed(project, chart, chains, float(t)) for t in times]
    poses, tracks = {}, {}
    for body in bodies:
        found = [_pose(project, body.name, m) for m in moments]
        moving = [p for p in found if p is not None]
        if len(moving) != len(found):
            continue
        poses[body.name] = moving[0]
        if max(float(np.abs(p - moving[0]).max()) for p in moving) > 1e-9:
            tracks[body.name] = _track(times, np.stack(moving))
    return write_glb(bodies, poses, tracks, title=f"{chart.project}: two-hand process, metres and seconds")


def _both_fingers(body: Body) -> list[Body]:
    if not body.name.endswith(_FINGER):
        return [body]
    return [replace(body, name=f"{body.name}:{side}") for side in (-1, 1)]


def _times(chart: Chart) -> Array:
    """Every PERIOD, and on both sides of where an element begins or does something [s]."""
    marks = [t for e in chart.elements for t in (e.start_s, e.start_s + e.before_s, e.start_s + e.duration_s)]
    beside = np.concatenate([np.array(marks), np.array(marks) - 1e-3])
    grid = np.arange(0.0, chart.makespan_s, PERIOD)
    all_ = np.round(np.concatenate([grid, beside, [0.0, chart.makespan_s]]), 6)
    return np.asarray(np.unique(all_[(all_ >= 0) & (all_ <= chart.makespan_s)]))


def _pose(project: Project, name: str, at: Placed) -> Array | None:
    """T_world_node; None for what stands still in the world."""
    kind, _, rest = name.partition(":")
    if kind in ("part", "tool"):
        return at.items.get(rest)
    if kind != "arm":
        return None
    arm, what, *more = rest.split(":")
    if what == "link":
        return np.asarray(at.links[arm][int(more[0]) + 1])
    if what == "palm":
        return at.hands[arm]
    away = at.widths[arm] / 2 + project.cell.gripper_of(arm).finger_size[1] / 2
    return np.asarray(at.hands[arm] @ se3.translation(0.0, int(more[0]) * away, 0.0))


def _track(times: Array, poses: Array) -> Track:
    """Quaternions without jumps of sign, so that what lies between goes the short way."""
    quaternions = np.array([se3.quaternion(p[:3, :3]) for p in poses])
    quaternions /= np.linalg.norm(quaternions, axis=1, keepdims=True)
    turned = np.sum(quaternions[1:] * quaternions[:-1], axis=1) < 0
    quaternions[1:] *= np.where(np.cumsum(turned) % 2 == 1, -1.0, 1.0)[:, None]
    return Track(times, poses[:, :3, 3], quaternions)
