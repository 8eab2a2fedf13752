"""The teeth of a gear as a solid: involute flanks, straight ends with the tips broken at 45 degrees or as
drawn.

Basic rack of ISO 53 (pressure angle 20 deg, root 1.25 modules below the pitch circle); the tips as high as
the part draws them. Flank: half the tooth's angle at radius r is psi_b - inv(acos(r_b / r)), r_b the base
radius; below the base circle the flanks run straight to the root. Source: ISO 21771 (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from handfast.spatial.se3 import Array

PRESSURE_ANGLE = math.radians(20.0)
_ROOT = 1.25  # depth of the root below the pitch circle, in modules (ISO 53, profile A)


@dataclass(frozen=True, slots=True)
class GearTeeth:
    """teeth; module [m]; tip radius [m]; thinner: the tooth's arc at the pitch circle below half the pitch
    [m]; length of the teeth [m]; chamfer of the tips at both ends: width (radial) [m], angle from the face
    [rad].

    Frame: origin in the middle of the end to which z points, x through the middle of a tooth.
    """

    teeth: int
    module: float
    tip: float
    thinner: float
    length: float
    chamfer_width: float = 0.0
    chamfer_angle: float = math.pi / 4

    @property
    def pitch_radius(self) -> float:
        """[m]"""
        return 0.5 * self.teeth * self.module

    @property
    def base_radius(self) -> float:
        """[m]"""
        return self.pitch_radius * math.cos(PRESSURE_ANGLE)

    @property
    def root_radius(self) -> float:
        """[m]"""
        return self.pitch_radius - _ROOT * self.module

    @property
    def chamfer_depth(self) -> float:
        """How far the chamfer of the tips reaches along the teeth [m]."""
        return self.chamfer_width * math.tan(self.chamfer_angle)

    @property
    def half_tooth_at_base(self) -> float:
        """Half of a tooth's angle at the base circle [rad]."""
        arc = 0.5 * math.pi * self.module - self.thinner
        return arc / (2 * self.pitch_radius) + math.tan(PRESSURE_ANGLE) - PRESSURE_ANGLE

    def half_angle(self, radius: Array) -> Array:
        """Half of a tooth's angle at radii (n,) [m], (n,) [rad]."""
        flank = np.arccos(np.minimum(1.0, self.base_radius / np.asarray(radius)))
        return np.asarray(self.half_tooth_at_base - (np.tan(flank) - flank))

    def outline(self, radii: Array, middles: Array) -> Array:
        """Points (2 n k, 2) on both flanks at radii (n,) of the teeth whose middles lie at angles (k,)."""
        half = self.half_angle(radii)
        angles = np.concatenate([middles[:, None] + s * half[None, :] for s in (-1.0, 1.0)]).ravel()
        r = np.tile(radii, 2 * len(middles))
        return np.column_stack([r * np.cos(angles), r * np.sin(angles)])

    def near(self, direction: float, reach: float) -> Array:
        """Angles (k,) of the middles of the teeth within `reach` [rad] of a direction [rad], in the gear's
        frame."""
        pitch = 2 * math.pi / self.teeth
        numbers = np.arange(
            math.ceil((direction - reach) / pitch), math.floor((direction + reach) / pitch) + 1
        )
        return np.asarray(numbers * pitch)


def thinner_for(backlash: float, first: GearTeeth, second: GearTeeth, centres: float) -> float:
    """How much thinner the teeth of each of two equal-pressure gears are so that they have that backlash [m]
    at that distance of centres [m].

    Backlash along the pitch circle: what both are thinner, and 2 (a - a0) tan(alpha) for centres a beyond the
    sum of the pitch radii (ISO 21771, for small differences, from memory).
    """
    opened = 2 * (centres - first.pitch_radius - second.pitch_radius) * math.tan(PRESSURE_ANGLE)
    return 0.5 * (backlash - opened)
