"""Lengths of many vectors at once."""

from __future__ import annotations

import numpy as np

from handfast.proof.stl import Array


def lengths(vectors: Array) -> Array:
    """Of vectors (..., 3), (...). numpy's own norm takes several times as long for so short ones."""
    return np.asarray(np.sqrt(np.einsum("...i,...i->...", vectors, vectors)))
