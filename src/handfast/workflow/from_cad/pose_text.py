"""A pose as project files have it."""

from __future__ import annotations

import numpy as np

from handfast.files.starter.written import row
from handfast.spatial.se3 import Array


def pose_text(T: Array, position: list[float]) -> str:
    """`{position: ..., turn: ...}`: turned about the fixed x, then y, then z."""
    R = T[:3, :3]
    ry = float(np.arcsin(np.clip(-R[2, 0], -1, 1)))
    if abs(R[2, 0]) > 1 - 1e-9:  # x points along z: only the sum of the other two turns counts
        rx, rz = 0.0, float(np.arctan2(-R[0, 1], R[1, 1]))
    else:
        rx, rz = float(np.arctan2(R[2, 1], R[2, 2])), float(np.arctan2(R[1, 0], R[0, 0]))
    turn = [round(float(np.rad2deg(a)), 7) + 0.0 for a in (rx, ry, rz)]
    at = row(*(round(p, 9) for p in position))
    if not any(turn):
        return f"{{position: {at}}}"
    return f"{{position: {at}, turn: [{', '.join(f'{a:.9g} deg' for a in turn)}]}}"
