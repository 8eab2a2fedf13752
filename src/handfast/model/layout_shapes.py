"""Simple shapes over the links of an arm that is known by its lengths."""

from __future__ import annotations

import math

from handfast.model.layout import Layout
from handfast.model.shape import Cylinder, Solid, Sphere
from handfast.spatial.pose import Pose

LinkSolids = tuple[tuple[int, Solid], ...]
"""(link, solid in its frame); links: -1 base, 0..5 moved by joint 1..6; frames as in Layout, straight up."""

_HALF = math.sqrt(0.5)
_ALONG_Y = (_HALF, -_HALF, 0.0, 0.0)
"""Turned about x by -90 deg: what pointed along z points along y."""


def layout_solids(layout: Layout) -> LinkSolids:
    """Cylinders and balls as thick as `diameters` say. Neighbours overlap; other links do not, upright."""
    return _spherical(layout) if layout.kind == "spherical-wrist" else _parallel(layout)


def _spherical(arm: Layout) -> LinkSolids:
    base, upper, fore, wrist = arm.diameters
    back, out = -arm.elbow_offset, (arm.shoulder_offset, 0.0, arm.shoulder_height)
    past_wrist = min(0.3 * wrist, 0.5 * arm.flange)
    half = 0.5 * arm.forearm  # the part beyond rolls with joint 4
    return (
        *_upright(-1, base, 0.0, arm.shoulder_height - 0.6 * base),
        *_across(0, base, -base / 2, base / 2, out),
        *_upright(1, upper, 0.0, arm.upper_arm),
        *_across(2, 1.1 * fore, -0.55 * upper, 0.55 * upper),
        *_upright(2, fore, 0.0, half, (back, 0.0)),
        *_upright(3, 0.9 * fore, half, arm.forearm - wrist / 2),
        (4, Solid(Sphere(wrist / 2))),
        *_upright(5, 0.8 * wrist, past_wrist, arm.flange),
    )


def _parallel(arm: Layout) -> LinkSolids:
    base, upper, fore, wrist = arm.diameters
    side = arm.wrist_side
    return (
        *_upright(-1, base, 0.0, arm.shoulder_height - 0.6 * base),
        *_across(0, base, -base / 2, side + upper / 2, (0.0, 0.0, arm.shoulder_height)),
        *_upright(1, upper, 0.0, arm.upper_arm, (0.0, side)),
        *_across(1, upper, -fore / 2, side + upper / 2, (0.0, 0.0, arm.upper_arm)),
        *_upright(2, fore, 0.0, arm.forearm),
        *_across(3, wrist, -wrist / 2, side),
        *_upright(4, wrist, 0.0, arm.wrist),
        *_across(5, 0.9 * wrist, 0.0, arm.flange),
    )


def _upright(
    link: int, diameter: float, low: float, high: float, at: tuple[float, float] = (0.0, 0.0)
) -> LinkSolids:
    """A cylinder along z between two heights, over (x, y); none where it would have no length."""
    if high <= low:
        return ()
    return ((link, Solid(Cylinder(diameter / 2, high - low), Pose((*at, (low + high) / 2)))),)


def _across(
    link: int, diameter: float, low: float, high: float, at: tuple[float, float, float] = (0.0, 0.0, 0.0)
) -> LinkSolids:
    """A cylinder along y between two sides of `at`; none where it would have no length."""
    if high <= low:
        return ()
    middle = (at[0], at[1] + (low + high) / 2, at[2])
    return ((link, Solid(Cylinder(diameter / 2, high - low), Pose(middle, _ALONG_Y))),)
