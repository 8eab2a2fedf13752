"""Error forms side by side, as one matrix that takes independent unit draws to deviations."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from handfast.model.error_source import ErrorSource
from handfast.spatial.se3 import Array
from handfast.uncertainty.error_form import Form, Instance
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
    keys = sorted({k for form in forms for k in form.jacobians})
    rows = sum(form.rows for form in forms)
    matrix = np.zeros((rows, len(keys), 6))
    at = {key: i for i, key in enumerate(keys)}
    start = 0
    for form in forms:
        for key, J in form.jacobians.items():
            matrix[start : start + form.rows, at[key]] = J
        start += form.rows
    for key, i in at.items():
        matrix[:, i] *= np.sqrt(sources.variances(key))
    flat = matrix.reshape(rows, -1)
    moving = np.flatnonzero(flat.any(axis=0))
    columns = tuple((keys[i // 6], int(i % 6)) for i in moving)
    mean = np.concatenate([form.mean for form in forms]) if forms else np.zeros(0)
    return DrawsMatrix(columns, flat[:, moving], mean)


def unit_block(sources: Sequence[ErrorSource], rng: np.random.Generator, count: int) -> NDArray[np.float32]:
    """Unit draws (c, count), variance one, row i distributed as source i is."""
    out = rng.standard_normal((len(sources), count), dtype=np.float32)
    for i, source in enumerate(sources):
        if source.distribution == "uniform":
            out[i] = np.sqrt(np.float32(3.0)) * (2 * rng.random(count, dtype=np.float32) - 1)
        elif source.distribution == "truncated":
            outside = np.flatnonzero(np.abs(out[i]) > source.truncation)
            while outside.size:
                out[i, outside] = rng.standard_normal(outside.size, dtype=np.float32)
                outside = outside[np.abs(out[i, outside]) > source.truncation]
            # What is cut off is missing from the variance; the columns carry the sigma that is left.
            out[i] /= _left_over(source.truncation)
    return out


@lru_cache(maxsize=16)
def _left_over(limit: float) -> float:
    return truncated_moments(TruncatedNormal(0.0, 1.0, -limit, limit))[1]
