"""Error forms side by side, as one matrix that takes independent unit draws to deviations."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from handfast.model.error_source import ErrorSource
from handfast.spatial.se3 import Array
from handfast.uncertainty.error_form import Form, side_by_side
from handfast.uncertainty.instances import Instance
from handfast.uncertainty.sources import Sources
from handfast.uncertainty.truncated import TruncatedNormal, truncated_moments

# Each column: an instance of a source and one of its six freedoms.
Column = tuple[Instance, int]


@dataclass(frozen=True, eq=False, slots=True)
class DrawsMatrix:
    """deviation (m,) = mean + matrix @ unit, unit (c,): independent, mean zero, variance one.

    columns: what each unit draws; matrix (m, c), its sigma taken in.
    """

    columns: tuple[Column, ...]
    matrix: Array
    mean: Array

    def only(self, wanted: NDArray[np.bool_]) -> DrawsMatrix:
        """The same without the columns that are not wanted (c,)."""
        kept = tuple(c for c, w in zip(self.columns, wanted, strict=True) if w)
        return DrawsMatrix(kept, self.matrix[:, wanted], self.mean)


def draws_matrix(forms: Sequence[Form], sources: Sources) -> DrawsMatrix:
    """The forms one under the other; columns that move nothing are left out, the others are sorted."""
    draws, flat = side_by_side(forms, sources.variances)
    order = (6 * np.array(draws.in_order(flat.shape[1] // 6), dtype=np.intp)[:, None] + np.arange(6)).ravel()
    moving = order[np.asarray(flat.any(axis=0))[order]]
    columns = tuple((draws.instances[i // 6], i % 6) for i in moving.tolist())
    mean = np.concatenate([form.mean for form in forms]) if forms else np.zeros(0)
    return DrawsMatrix(columns, flat[:, moving], mean)


def unit_block(
    sources: Sequence[ErrorSource], rng: np.random.Generator, count: int, others: int = 0
) -> NDArray[np.float32]:
    """Unit draws (c + others, count), variance one, row i distributed as source i is; the others normal."""
    out = np.empty((len(sources) + others, count), dtype=np.float32)
    for i, source in enumerate(sources):
        if source.distribution == "uniform":
            rng.random(dtype=np.float32, out=out[i])
            out[i] -= 0.5
            out[i] *= np.float32(12**0.5)
            continue
        rng.standard_normal(dtype=np.float32, out=out[i])
        if source.distribution == "truncated":
            outside = np.flatnonzero(np.abs(out[i]) > source.truncation)
            while outside.size:
                out[i, outside] = rng.standard_normal(outside.size, dtype=np.float32)
                outside = outside[np.abs(out[i, outside]) > source.truncation]
            # What is cut off is missing from the variance; the columns carry the sigma that is left.
            out[i] /= _left_over(source.truncation)
    rng.standard_normal(dtype=np.float32, out=out[len(sources) :])
    return out


@lru_cache(maxsize=16)
def _left_over(limit: float) -> float:
    return truncated_moments(TruncatedNormal(0.0, 1.0, -limit, limit))[1]
