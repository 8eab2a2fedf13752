"""Draws that stand for many: what normal draws do together is done by as few as their effects are apart.

Linear effects y = A u of independent unit normal draws u have the covariance A A^T and nothing else that
could be told; with A A^T = V L V^T the draws w of y = V sqrt(L) w are as good, and no more than there are
effects."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handfast.spatial.se3 import Array

# Of effects that are to be told in units of what they are measured against [same unit]: no more than a
# hundred-thousandth of it is left out.
_LEAST = 1e-5


@dataclass(frozen=True, eq=False, slots=True)
class Few:
    """kept (k,): columns that are drawn as they are; effects (m, k + r): of those and of r normal draws."""

    kept: NDArray[np.intp]
    effects: Array


def few_draws(effects: Array, normal: NDArray[np.bool_]) -> Few:
    """As few draws as can be. effects (m, c): of unit draws, in units of what each row is measured against;
    normal (c,): columns that are drawn normal and that nobody asks for one by one.
    """
    kept = np.flatnonzero(~normal)
    many = effects[:, normal]
    variances, axes = np.linalg.eigh(many @ many.T)
    # An axis has no sign of its own: rounding must not choose it, or the draws would be others.
    axes *= np.where(axes[np.argmax(np.abs(axes), axis=0), np.arange(len(axes))] < 0, -1.0, 1.0)
    telling = variances > _LEAST**2
    return Few(kept, np.hstack([effects[:, kept], axes[:, telling] * np.sqrt(variances[telling])]))
