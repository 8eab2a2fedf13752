"""Round surfaces through corners of a mesh: corners lie on the surface that the facets stand for, their
middles do not."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from handfast.spatial.se3 import Array

RoundKind = Literal["cylinder", "cone", "sphere", "torus"]
_ROUNDS = 25  # of Gauss-Newton; from a fair start it settles in four
_STRIDE = 0.5  # the most that one of them changes, in sizes of what is fitted
_MOST = 240  # corners that a fit looks at


@dataclass(frozen=True, eq=False, slots=True)
class Surface:
    """As a face's: origin on the axis (centre of a sphere, of a torus), axis unit, radius at the origin [m],
    half_angle of a cone [rad], tube of a torus [m]."""

    kind: RoundKind
    origin: Array
    axis: Array
    radius: float
    half_angle: float = 0.0
    tube: float = 0.0

    def off(self, points: Array) -> Array:
        """Signed distance of points (n, 3) [m], outside positive."""
        away = points - self.origin
        if self.kind == "sphere":
            return np.asarray(np.linalg.norm(away, axis=1) - self.radius)
        along = away @ self.axis
        out = np.linalg.norm(away - along[:, None] * self.axis, axis=1)
        if self.kind == "cylinder":
            return np.asarray(out - self.radius)
        if self.kind == "cone":
            c, s = np.cos(self.half_angle), np.sin(self.half_angle)
            return np.asarray(c * (out - self.radius) - s * along)
        return np.asarray(np.hypot(out - self.radius, along) - self.tube)

    def nearest(self, points: Array) -> Array:
        """Points (n, 3) moved onto the surface [m]: of a cylinder or cone square to the axis, so that none
        comes to lie beyond its ends."""
        if self.kind not in ("cylinder", "cone"):
            return np.asarray(points - self.off(points)[:, None] * self.normals(points))
        away = points - self.origin
        along = away @ self.axis
        out = away - along[:, None] * self.axis
        wanted = self.radius + np.tan(self.half_angle) * along
        scale = wanted / np.maximum(np.linalg.norm(out, axis=1), 1e-15)
        return np.asarray(self.origin + along[:, None] * self.axis + scale[:, None] * out)

    def normals(self, points: Array) -> Array:
        """Away from the axis (of a torus from its circle), unit (n, 3)."""
        away = points - self.origin
        if self.kind == "sphere":
            return _unit(away)
        along = away @ self.axis
        out = _unit(away - along[:, None] * self.axis)
        if self.kind == "cylinder":
            return out
        if self.kind == "cone":
            return np.asarray(np.cos(self.half_angle) * out - np.sin(self.half_angle) * self.axis)
        return _unit(away - self.radius * out)


def fit_round(
    kind: RoundKind, points: Array, axis: Array, tolerance: float, apex: Array | None = None
) -> Surface | None:
    """The surface of that kind through corners (n, 3) [m], from a guess of its axis, and of a cone's apex;
    None if it lies farther from one of them than the tolerance [m], or is hardly curved there."""
    if len(points) > _MOST:
        points = points[np.linspace(0, len(points) - 1, _MOST).astype(int)]
    size = float(np.ptp(points, axis=0).max())
    if len(points) < 6 or size <= 0:
        return None
    middle = points.mean(axis=0)
    scaled = (points - middle) / size
    begin = _start(kind, scaled, axis) if apex is None else _cone_from(scaled, axis, (apex - middle) / size)
    found = _settled(kind, begin, scaled)
    if found is None or not 0 < found.radius < 50 or (kind == "torus" and not 1e-4 < found.tube < 50):
        return None
    surface = Surface(
        kind,
        middle + size * found.origin,
        found.axis,
        size * found.radius,
        found.half_angle,
        size * found.tube,
    )
    return surface if float(np.abs(surface.off(points)).max()) <= tolerance else None


def _cone_from(points: Array, axis: Array, apex: Array) -> Surface:
    """Through points (n, 3), its origin beside their middle."""
    away = points - apex
    along = away @ axis
    out = np.linalg.norm(away - along[:, None] * axis, axis=1)
    slope = float((out @ along) / max(float(along @ along), 1e-18))
    middle = float(along.mean())
    return Surface("cone", apex + middle * axis, axis, abs(slope * middle), float(np.arctan(slope)))


def _start(kind: RoundKind, points: Array, axis: Array) -> Surface:
    axis = axis / max(float(np.linalg.norm(axis)), 1e-12)
    x, y = _across(axis)
    flat = np.column_stack([points @ x, points @ y])
    a, b, radius = _circle(flat)
    origin = a * x + b * y
    if kind == "cone":
        along = points @ axis
        out = np.hypot(flat[:, 0] - a, flat[:, 1] - b)
        slope = np.polyfit(along, out, 1)[0] if np.ptp(along) > 1e-9 else 0.0
        return Surface(kind, origin, axis, float(out.mean()), float(np.arctan(slope)))
    if kind == "torus":
        along, out = points @ axis, np.hypot(flat[:, 0] - a, flat[:, 1] - b)
        r, z, tube = _circle(np.column_stack([out, along]))
        return Surface(kind, origin + z * axis, axis, abs(r), tube=tube)
    if kind == "sphere":
        rows = np.column_stack([2 * points, np.ones(len(points))])
        c = np.linalg.lstsq(rows, (points**2).sum(axis=1), rcond=None)[0]
        return Surface(kind, c[:3], axis, float(np.sqrt(max(c[3] + c[:3] @ c[:3], 1e-12))))
    return Surface(kind, origin, axis, radius)


def _settled(kind: RoundKind, start: Surface, points: Array) -> Surface | None:
    """Gauss-Newton over: origin (across the axis, and along it for a torus), axis, sizes."""
    at = start
    for _ in range(_ROUNDS):
        here, jacobian = _slopes(at, points)
        move = np.linalg.lstsq(jacobian, -here, rcond=1e-10)[0]
        far = float(np.abs(move).max())
        if not np.isfinite(far):
            return None
        at = _changed(at, np.asarray(move / max(1.0, far / _STRIDE)))
        if far < 1e-11:
            break
    return at


def _slopes(s: Surface, points: Array) -> tuple[Array, Array]:
    """Distances of points (n,), and how each changes with what a fit of that kind may change (n, free)."""
    away = points - s.origin
    x, y = _across(s.axis)
    if s.kind == "sphere":
        far = np.maximum(np.linalg.norm(away, axis=1), 1e-15)
        unit = away / far[:, None]
        columns = [-unit @ x, -unit @ y, -unit @ s.axis, -np.ones(len(points))]
        return far - s.radius, np.column_stack(columns)
    along, ax, ay = away @ s.axis, away @ x, away @ y
    out = np.maximum(np.hypot(ax, ay), 1e-15)
    ux, uy = ax / out, ay / out
    if s.kind == "cylinder":
        columns = [-ux, -uy, -along * ux, -along * uy, -np.ones(len(points))]
        return out - s.radius, np.column_stack(columns)
    if s.kind == "cone":
        c, n = np.cos(s.half_angle), np.sin(s.half_angle)
        columns = [
            -c * ux, -c * uy, -c * along * ux - n * ax, -c * along * uy - n * ay,
            np.full(len(points), -c), -n * (out - s.radius) - c * along,
        ]  # fmt: skip
        return c * (out - s.radius) - n * along, np.column_stack(columns)
    a = out - s.radius
    far = np.maximum(np.hypot(a, along), 1e-15)
    p, q = a / far, along / far
    columns = [
        -p * ux, -p * uy, -q, -p * along * ux + q * ax, -p * along * uy + q * ay, -p, -np.ones(len(points)),
    ]  # fmt: skip
    return far - s.tube, np.column_stack(columns)


def _free(kind: RoundKind) -> tuple[str, ...]:
    """What a fit of that kind may change."""
    return {
        "cylinder": ("x", "y", "turn x", "turn y", "radius"),
        "cone": ("x", "y", "turn x", "turn y", "radius", "angle"),
        "sphere": ("x", "y", "z", "radius"),
        "torus": ("x", "y", "z", "turn x", "turn y", "radius", "tube"),
    }[kind]


def _changed(s: Surface, move: Array) -> Surface:
    by = dict(zip(_free(s.kind), move, strict=True))
    x, y = _across(s.axis)
    origin = s.origin + by["x"] * x + by["y"] * y + by.get("z", 0.0) * s.axis
    axis = s.axis + by.get("turn x", 0.0) * x + by.get("turn y", 0.0) * y
    return Surface(
        s.kind, origin, axis / np.linalg.norm(axis), s.radius + by["radius"],
        s.half_angle + by.get("angle", 0.0), s.tube + by.get("tube", 0.0),
    )  # fmt: skip


def _circle(flat: Array) -> tuple[float, float, float]:
    """Centre and radius of the circle through points (n, 2) (Kasa's linear least squares)."""
    rows = np.column_stack([2 * flat, np.ones(len(flat))])
    a, b, c = np.linalg.lstsq(rows, (flat**2).sum(axis=1), rcond=None)[0]
    return float(a), float(b), float(np.sqrt(max(c + a * a + b * b, 1e-12)))


def _across(axis: Array) -> tuple[Array, Array]:
    seed = np.array([1.0, 0.0, 0.0]) if abs(axis[0]) < 0.9 else np.array([0.0, 1.0, 0.0])
    x = seed - (seed @ axis) * axis
    x /= np.sqrt(x @ x)
    a, b, c = (float(v) for v in axis)
    i, j, k = (float(v) for v in x)
    return x, np.array([b * k - c * j, c * i - a * k, a * j - b * i])


def _unit(v: Array) -> Array:
    return np.asarray(v / np.maximum(np.linalg.norm(v, axis=1), 1e-15)[:, None])
