"""Arms known by their lengths, as data sheets describe them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from handfast.model.arm import Arm
from handfast.model.layout import Layout, LayoutKind
from handfast.spatial.pose import Pose

WIDE = ((-6.0, 6.0),) * 6
SPEEDS = (3.0, 3.0, 3.0, 5.0, 5.0, 7.0)
DIAMETERS = (0.16, 0.11, 0.10, 0.07)
FIRST_FIT = Layout(
    "spherical-wrist", 0.30, 0.42, 0.38, 0.09, WIDE, SPEEDS, DIAMETERS, (), shoulder_offset=0.05
)
"""The lengths that projects/first-fit/arms/arm.urdf gives in its head."""
H = np.pi / 2
# A maker's published Denavit-Hartenberg rows (d, a, alpha) of an arm with three parallel axes and 0.85 m of
# reach, from memory; the same arm in open robot data agrees (tests/verification/test_open_robot_data.py).
PARALLEL_DH = (
    (0.089159, 0, H), (0, -0.425, 0), (0, -0.39225, 0), (0.10915, 0, H), (0.09465, 0, -H), (0.0823, 0, 0),
)  # fmt: skip
PARALLEL = Layout(
    "three-parallel", 0.089159, 0.425, 0.39225, 0.0823, WIDE, SPEEDS, (0.12, 0.1, 0.08, 0.07), (),
    wrist_side=0.10915, wrist=0.09465, zero=(0.0, H, 0.0, H, 0.0, 0.0),
)  # fmt: skip
"""The same arm. The maker's zero lays it flat, the frame of its base is turned by half a turn."""


def arm(layout: Layout, base: Pose | None = None) -> Arm:
    return Arm("left", "", "base", "flange", base or Pose(), (0.0,) * 6, (5.0,) * 6, layout=layout)


def drawn(rng: np.random.Generator, kind: LayoutKind) -> Layout:
    """Any lengths, zeros and directions."""
    height, upper, fore, flange, front, aside, wrist = (float(v) for v in rng.uniform(0.05, 0.5, 7))
    a, b, c, d, e, f = (float(z) for z in rng.uniform(-3, 3, 6))
    counted = tuple(int(i) for i in np.flatnonzero(rng.random(6) < 0.5) + 1)
    layout = Layout(
        kind, height, upper, fore, flange, WIDE, SPEEDS, DIAMETERS, (), shoulder_offset=front,
        zero=(a, b, c, d, e, f), reversed=counted,
    )  # fmt: skip
    if kind == "spherical-wrist":
        return replace(layout, elbow_offset=aside)
    return replace(layout, wrist_side=aside, wrist=wrist)
