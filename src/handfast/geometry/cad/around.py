"""Angles around an axis, and the directions square to it."""

from __future__ import annotations

import numpy as np

from handfast.spatial.se3 import Array


def widest_gap(away: Array, direction: Array) -> float:
    """The widest angle about an axis that has none of the points (n, 3), given from a point on it [rad]."""
    x, y = across(direction)
    flat = np.column_stack([away @ x, away @ y])
    flat = flat[np.hypot(*flat.T) > 1e-9]
    if len(flat) < 3:
        return 2 * np.pi
    angles = np.sort(np.arctan2(flat[:, 1], flat[:, 0]))
    gaps = np.diff(angles, append=angles[0] + 2 * np.pi)
    return float(gaps.max())


def across(axis: Array) -> tuple[Array, Array]:
    """The x and y of the frame that the conventions give a feature with this z: x is the body's +x made
    square to it, or its +y where z lies within 26 degrees of x."""
    seed = np.array([1.0, 0.0, 0.0]) if abs(axis[0]) <= 0.9 else np.array([0.0, 1.0, 0.0])
    x = seed - (seed @ axis) * axis
    x /= np.linalg.norm(x)
    return x, np.cross(axis, x)
