"""The arm that the motion tests move."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from handfast.kinematics.chain import Chain, load_chain
from handfast.model.arm import Arm
from handfast.model.motion import Motion
from handfast.spatial.pose import Pose

Array = NDArray[np.float64]
FOLDER = Path(__file__).parents[2] / "projects" / "first-fit"
READY = np.deg2rad([10.0, 20, 100, 5, 60, 30])  # the hand in front of the base, no joint near its limit
LIMITS = tuple(np.deg2rad([400.0, 400, 500, 800, 800, 1000]))


def first_fit() -> Chain:
    """The example's arm, standing aside and turned."""
    base = Pose((-0.5, 0.1, 0.02), (np.sqrt(0.5), 0.0, 0.0, np.sqrt(0.5)))
    arm = Arm("left", "arms/arm.urdf", "base", "flange", base, tuple(READY), LIMITS, 0.6)
    return load_chain(arm, str(FOLDER))


def one_joint(v: float, a: float) -> Chain:
    """A chain of one joint with a speed and an acceleration limit."""
    frame, one = np.eye(4)[None], np.ones(1)
    return Chain("left", ("j",), frame, np.array([[0.0, 0, 1]]), np.eye(4), np.eye(4), -9 * one, 9 * one,
                 v * one, a * one, 0 * one)  # fmt: skip


def pieces(motion: Motion) -> tuple[Array, Array, Array]:
    """t (k,), q (k, n), v (k, n) of a motion's knots."""
    return np.array(motion.t), np.array(motion.q), np.array(motion.v)
