"""Round features as convex pieces: a hole as a ring of wedges, a shaft as a cylinder with a conical end.

The ring is circumscribed: its flat inner faces touch the drawn circle from outside, so that a shaft of radius
r has exactly the radial play R - r towards the middle of every face (an inscribed ring would take play away
and jam a good fit).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from handfast.spatial.se3 import Array

_RIM = (
    0.003  # width of the flat face left around the chamfer, on which a shaft that misses comes to stand [m]
)
_FACETS = 256  # around the conical end of a shaft


@dataclass(frozen=True, slots=True)
class RoundHole:
    """radius, length [m]; chamfer: width (radial) [m] and angle from the face [rad], width 0: a sharp edge.
    half: of the middle line along x that makes it a slot [m], 0 for a round hole.

    Frame: origin at the mouth, z into the hole.
    """

    radius: float
    length: float
    chamfer_width: float = 0.0
    chamfer_angle: float = math.pi / 4
    half: float = 0.0

    @property
    def chamfer_depth(self) -> float:
        """How far the chamfer reaches into the hole [m]."""
        return self.chamfer_width * math.tan(self.chamfer_angle)


@dataclass(frozen=True, slots=True)
class RoundShaft:
    """radius, length [m]; chamfer at the tip as for a hole. Frame: origin at the tip, z out of it."""

    radius: float
    length: float
    chamfer_width: float = 0.0
    chamfer_angle: float = math.pi / 4

    @property
    def chamfer_depth(self) -> float:
        """How far the chamfer reaches back from the tip [m]."""
        return self.chamfer_width * math.tan(self.chamfer_angle)


def hole_wedges(hole: RoundHole, count: int) -> list[Array]:
    """Corners (8, 3) of the pieces of one sector of the ring, its inner face looking along -x; rotate it
    `count` times.

    One piece along the bore and, with a chamfer, one along the cone, each convex.
    """
    outer, depth = hole.radius + hole.chamfer_width + _RIM, hole.chamfer_depth
    pieces = [_wedge((hole.radius, depth), (hole.radius, hole.length), outer, count)]
    if hole.chamfer_width > 0:
        pieces.append(_wedge((hole.radius + hole.chamfer_width, 0.0), (hole.radius, depth), outer, count))
    return pieces


def _wedge(inner_top: tuple[float, float], inner_end: tuple[float, float], outer: float, count: int) -> Array:
    half = math.tan(math.pi / count)
    profile = [inner_top, inner_end, (outer, inner_end[1]), (outer, inner_top[1])]
    return np.array([(x, sign * x * half, z) for x, z in profile for sign in (-1.0, 1.0)])


def shaft_end(shaft: RoundShaft) -> Array | None:
    """Corners (2 * facets, 3) of the cone between the tip and the cylinder, None for a sharp end.

    Circumscribed, too: its facets touch the drawn cone, so that nothing of the cylinder's flat end looks out
    behind it. A ledge of a micrometre there is enough to catch an edge that slides along the cone.
    """
    if shaft.chamfer_width <= 0:
        return None
    azimuth = np.arange(_FACETS) * 2 * math.pi / _FACETS
    circle = np.column_stack([np.cos(azimuth), np.sin(azimuth)]) / math.cos(math.pi / _FACETS)
    rings = [(shaft.radius - shaft.chamfer_width, 0.0), (shaft.radius, -shaft.chamfer_depth)]
    return np.concatenate([np.column_stack([r * circle, np.full(_FACETS, z)]) for r, z in rings])
