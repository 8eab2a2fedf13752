"""Planes, cylinders and cones that were drawn as general surfaces, found from points and normals on them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.geometry.cad.face_graph import SurfaceKind
from handfast.spatial.se3 import Array

CLOSE = 5e-6
"""How far the points of a surface may lie off the named one [m]: a twentieth of what ISO 2768-1 f allows."""


@dataclass(frozen=True, eq=False, slots=True)
class Fit:
    """A named surface through points. misfit: of the worst point [m]; tube: of a torus [m]."""

    kind: SurfaceKind
    origin: Array
    axis: Array
    radius: float
    half_angle: float
    misfit: float
    tube: float = 0.0


def fit_surface(points: Array, normals: Array, close: float = CLOSE) -> Fit | None:
    """The plane, cylinder, cone or torus through points (n, 3) [m] with unit normals (n, 3), whichever fits
    first; None if none does. Raises nothing.

    The axis of a surface of revolution without its bulge is the direction that all normals make the same
    angle with: the least eigenvector of their covariance (about their mean for a cone, about zero for a
    cylinder).
    """
    if len(points) < 6:
        return None
    for attempt in (_plane, _cylinder, _cone, _torus):
        found = attempt(points, normals)
        if found is not None and found.misfit <= close:
            return found
    return None


def _plane(points: Array, normals: Array) -> Fit | None:
    middle = points.mean(axis=0)
    axis = np.linalg.svd(points - middle, full_matrices=False)[2][2]
    axis = axis if axis @ normals.mean(axis=0) >= 0 else -axis
    if np.abs(normals @ axis).min() < 0.999:
        return None
    return Fit("plane", middle, axis, 0.0, 0.0, float(np.abs((points - middle) @ axis).max()))


def _cylinder(points: Array, normals: Array) -> Fit | None:
    axis = np.linalg.eigh(normals.T @ normals)[1][:, 0]
    if np.abs(normals @ axis).max() > 2e-3:
        return None
    x, y = _across(axis)
    flat = np.column_stack([points @ x, points @ y])
    centre, radius, misfit = _circle(flat)
    return Fit("cylinder", centre[0] * x + centre[1] * y, axis, radius, 0.0, misfit)


def _cone(points: Array, normals: Array) -> Fit | None:
    spread = normals - normals.mean(axis=0)
    axis = np.linalg.eigh(spread.T @ spread)[1][:, 0]
    lean = normals @ axis
    if np.ptp(lean) > 4e-3 or not 0.02 < abs(float(lean.mean())) < 0.9998:
        return None
    # Every normal plane through its point passes the apex: n . apex = n . p.
    apex = np.linalg.lstsq(normals, (normals * points).sum(axis=1), rcond=None)[0]
    along = (points - apex) @ axis
    if float(along.mean()) < 0:
        axis, along = -axis, -along
    out = np.linalg.norm(points - apex - along[:, None] * axis, axis=1)
    slope = float((out @ along) / max(float(along @ along), 1e-18))
    half = float(np.arctan(slope))
    misfit = float(np.abs((out - slope * along) * np.cos(half)).max())
    middle = float(along.mean())
    return Fit("cone", apex + middle * axis, axis, slope * middle, half, misfit)


def _torus(points: Array, normals: Array) -> Fit | None:
    """The axis is the line that all normals meet (the least vector of their linear complex, Pottmann and
    Wallner 2001); about it the points lie on one circle of radius and height."""
    middle = points.mean(axis=0)
    size = max(float(np.abs(points - middle).max()), 1e-12)
    p = (points - middle) / size
    least = np.linalg.svd(np.column_stack([np.cross(p, normals), normals]), full_matrices=False)[2][5]
    length = float(np.linalg.norm(least[:3]))
    if length < 1e-6:
        return None
    axis, moment = least[:3] / length, least[3:] / length
    foot = np.cross(axis, moment)
    along = (p - foot) @ axis
    out = np.linalg.norm(p - foot - along[:, None] * axis, axis=1)
    centre, tube, misfit = _circle(np.column_stack([out, along]))
    if centre[0] < 1e-3 or tube > 1e3:
        return None
    origin = middle + size * (foot + centre[1] * axis)
    return Fit("torus", origin, axis, size * float(centre[0]), 0.0, size * misfit, size * tube)


def _circle(flat: Array) -> tuple[Array, float, float]:
    """Centre, radius and worst misfit of the circle through points (n, 2) (Kasa's linear least squares)."""
    middle = flat.mean(axis=0)
    p = flat - middle
    size = max(float(np.abs(p).max()), 1e-12)
    p = p / size
    rows = np.column_stack([2 * p, np.ones(len(p))])
    a, b, c = np.linalg.lstsq(rows, (p**2).sum(axis=1), rcond=None)[0]
    radius = float(np.sqrt(max(c + a * a + b * b, 0.0)))
    off = np.abs(np.hypot(p[:, 0] - a, p[:, 1] - b) - radius)
    return np.array([a, b]) * size + middle, radius * size, float(off.max()) * size


def _across(axis: Array) -> tuple[Array, Array]:
    """Two unit directions square to an axis."""
    seed = np.array([1.0, 0.0, 0.0]) if abs(axis[0]) < 0.9 else np.array([0.0, 1.0, 0.0])
    x = seed - (seed @ axis) * axis
    x /= np.linalg.norm(x)
    return x, np.cross(axis, x)
