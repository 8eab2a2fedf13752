"""What may be called a covariance: finite, symmetric, no negative variance in any direction."""

from __future__ import annotations

import numpy as np

from handfast.spatial.se3 import Array

# Rounding allowed, as a share of the largest variance of the matrix scaled to unit diagonal.
_ROUNDING = 1e-9


class CovarianceError(ValueError):
    """A matrix that is no covariance. place: where it came from; reason: what is wrong with it."""

    def __init__(self, place: str, reason: str) -> None:
        super().__init__(f"{place}: expected a covariance, {reason}")
        self.place = place
        self.reason = reason


def checked_covariance(matrix: object, place: str) -> Array:
    """The matrix as an array (n, n), if it is a covariance. place: named in the error. Raises
    CovarianceError.

    Metres and radians stand in one matrix, so it is judged after scaling to unit diagonal.
    """
    found = np.asarray(matrix, dtype=np.float64)
    if found.ndim != 2 or found.shape[0] != found.shape[1]:
        raise CovarianceError(place, f"which is square, found the shape {found.shape}")
    if not np.isfinite(found).all():
        raise CovarianceError(place, "found entries that are not finite")
    diagonal = np.diag(found)
    if (diagonal < 0).any():
        worst = int(np.argmin(diagonal))
        raise CovarianceError(place, f"found the variance {diagonal[worst]:.3g} for freedom {worst}")
    scale = np.sqrt(np.where(diagonal > 0, diagonal, 1.0))
    correlation = found / np.outer(scale, scale)
    if np.abs(correlation - correlation.T).max(initial=0.0) > _ROUNDING:
        raise CovarianceError(place, "which is symmetric, found one that is not")
    lowest = float(np.linalg.eigvalsh(0.5 * (correlation + correlation.T)).min(initial=0.0))
    if lowest < -_ROUNDING * len(found):
        raise CovarianceError(
            place, f"which is positive semi-definite, found the scaled eigenvalue {lowest:.3g}"
        )
    return found
