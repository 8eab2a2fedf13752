"""A timed joint motion of one arm."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Motion:
    """Knots of a motion with constant joint acceleration between them, at rest at both ends.

    t: (k,) [s] from the start of the motion, rising; q: (k, n) [rad]; v: (k, n) [rad/s]. Between knots i and
    i+1 with h = t[i+1] - t[i]: q(t[i] + s) = q[i] + v[i] s + (v[i+1] - v[i]) s^2 / (2 h). path: "free"
    through open space, "line" a straight line of the grip frame.
    """

    arm: str
    path: Literal["free", "line"]
    t: tuple[float, ...]
    q: tuple[tuple[float, ...], ...]
    v: tuple[tuple[float, ...], ...]

    @property
    def duration(self) -> float:
        """Length [s]."""
        return self.t[-1]
