"""Guarded moves as readings of where the held part really is: its true corners against true faces.

Of all corners the one that meets the face first makes the contact, whatever the deviation: the reading is
curved by the rotation and kinked where another corner takes over. Both are seen by the statistical
linearisation, which counts what a straight line misses as noise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from handfast.belief.sensing import Line, fitted_line
from handfast.spatial import se3
from handfast.spatial.se3 import Array


@dataclass(frozen=True, eq=False, slots=True)
class GuardedTouch:
    """T_face_held (4, 4): where the held part is expected to stand at contact, face frame with z outward;
    direction (3,): of the move in the face frame, unit, z below zero."""

    T_face_held: Array
    direction: Array


@dataclass(frozen=True, eq=False, slots=True)
class ContactSensing:
    """Travels beyond the expected contact [m], one for each touch, of a held part that deviates in the hand.

    State (n,): the free freedoms of the twist xi of the held part, T_hand_held = nominal Exp(xi); basis
    (6, n): state to twist. points (k, 3): corners of the held part in its frame [m]; noise (m, m): of
    the readings [m^2].
    """

    touches: Sequence[GuardedTouch]
    points: Array
    basis: Array
    noise: Array

    def linearised(self, mean: Array, covariance: Array) -> Line:
        """The line for a state of mean (n,) and covariance (n, n)."""
        return fitted_line(self.travels, mean, covariance, self.noise)

    def travels(self, states: Array) -> Array:
        """Travel beyond the expected contact [m], (s, m), of states (s, n)."""
        heights = corner_heights(self.touches, self.points, states @ self.basis.T).min(axis=2)
        return np.asarray(heights / self._against())

    def _against(self) -> Array:
        against = -np.array([t.direction[2] for t in self.touches])
        if (against <= 0).any():
            raise ValueError(
                f"contact: expected moves against their faces, z below 0, found {-against.min():.3g}"
            )
        return against


def corner_heights(touches: Sequence[GuardedTouch], points: Array, twists: Array) -> Array:
    """Height of each corner above each face [m], (s, m, k), for twists (s, 6) of the held part in the
    hand.
    """
    rows = np.array([t.T_face_held[2] for t in touches])
    moved = rows @ se3.exp(twists)
    return np.asarray(moved[..., :3] @ points.T + moved[..., 3:])
