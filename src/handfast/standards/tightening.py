"""Tightening torque and preload of screws in the form of VDI 2230.

M_A = F (P/(2 pi) + d2 mu_G/(2 cos 30) + D_Km mu_K/2); the guideline prints the first two factors rounded as
0.16 P and 0.58 d2. The preload that uses a share nu of the yield stress with torsion counted (plastic
torsion, round section) is F = nu Rp As / sqrt(1 + 3 [(3/2)(d2/d0)(P/(pi d2) + 1.155 mu_G)]^2). Source: VDI
2230 part 1 (from memory), numbers checked in the tests against published torque tables.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from handfast.standards.property_classes import PropertyClass
from handfast.standards.threads import MetricThread

# Half the flank angle of the 60 degree profile raises the normal force by 1/cos 30.
_FLANK = 1.0 / math.cos(math.radians(30.0))
YIELD_SHARE = 0.9


@dataclass(frozen=True, slots=True)
class TorqueSplit:
    """Where a tightening torque goes [N m]: along the pitch, thread friction, friction under the head."""

    pitch: float
    thread: float
    head: float

    @property
    def total(self) -> float:
        """The whole tightening torque [N m]."""
        return self.pitch + self.thread + self.head

    @property
    def shares(self) -> tuple[float, float, float]:
        """The three parts over the total."""
        return self.pitch / self.total, self.thread / self.total, self.head / self.total


def bearing_mean_diameter(bearing_diameter: float, hole_diameter: float) -> float:
    """D_Km [m]: mean of the bearing face's outer diameter and the clearance hole, both [m]."""
    return 0.5 * (bearing_diameter + hole_diameter)


def torque_split(
    preload: float, thread: MetricThread, mu_thread: float, mu_head: float, bearing_mean: float
) -> TorqueSplit:
    """Parts of the tightening torque for `preload` [N]; bearing_mean: D_Km [m]; mu: friction coefficients."""
    _require_friction(mu_thread, mu_head)
    return TorqueSplit(
        pitch=preload * thread.pitch / (2.0 * math.pi),
        thread=preload * 0.5 * thread.pitch_diameter * _FLANK * mu_thread,
        head=preload * 0.5 * bearing_mean * mu_head,
    )


def tightening_torque(
    preload: float, thread: MetricThread, mu_thread: float, mu_head: float, bearing_mean: float
) -> float:
    """Tightening torque [N m] that gives `preload` [N]; arguments as in torque_split."""
    return torque_split(preload, thread, mu_thread, mu_head, bearing_mean).total


def preload_from_torque(
    torque: float, thread: MetricThread, mu_thread: float, mu_head: float, bearing_mean: float
) -> float:
    """Preload [N] that `torque` [N m] gives; arguments as in torque_split."""
    return torque / tightening_torque(1.0, thread, mu_thread, mu_head, bearing_mean)


def preload_at_yield_share(
    thread: MetricThread, strength: PropertyClass, mu_thread: float, share: float = YIELD_SHARE
) -> float:
    """Preload [N] at which tension and thread torsion together reach `share` of the yield stress."""
    _require_friction(mu_thread)
    slope = thread.pitch / (math.pi * thread.pitch_diameter) + _FLANK * mu_thread
    torsion = 1.5 * thread.pitch_diameter / thread.stress_diameter * slope
    return share * strength.yield_stress * thread.stress_area / math.sqrt(1.0 + 3.0 * torsion**2)


def _require_friction(*coefficients: float) -> None:
    for value in coefficients:
        if not 0.0 <= value < 1.0:
            raise ValueError(
                f"friction coefficient of a screw: expected 0 <= mu < 1, found {value}; write e.g. 0.12"
            )
