"""An arm's accuracy as a smooth field: near stops err alike, far ones do not.

The field's values at the stops are jointly normal, correlated by exp(-d^2/(2 L^2)) over the distance d
between tips (squared exponential; common practice for smooth fields, no source for its shape on an arm).
Row by row of a Cholesky factor they become sums of independent draws, one more for each stop that is not
settled by those before it, so an error form can carry them. Each freedom of the tip's twist is such a field
by itself.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.spatial.se3 import Array

# A stop that the others settle but for this share of the variance, 1e-4 of the field's sigma (some
# nanometres), has no draw of its own: hands come back to where they were again and again.
_SETTLED = 1e-8


@dataclass(frozen=True, eq=False, slots=True)
class FieldStops:
    """The stops so far that have a draw. names (n); points (n, 3) [m] in the world; root: lower Cholesky
    factor (n, n) of their correlation.
    """

    names: tuple[str, ...]
    points: Array
    root: Array


NO_STOPS = FieldStops((), np.zeros((0, 3)), np.zeros((0, 0)))


def visit(
    field: FieldStops, name: str, point: Array, length: float
) -> tuple[FieldStops, tuple[tuple[str, float], ...]]:
    """The field with one more stop, and the weights of the independent draws that make its value there.

    The draws are named after the stops that brought them in. length [m]: correlation length.
    """
    distances = np.sqrt(((field.points - point) ** 2).sum(axis=1))
    correlation = np.exp(-0.5 * (distances / length) ** 2)
    row = np.linalg.solve(field.root, correlation) if len(correlation) else correlation
    left = 1 - float(row @ row)
    if left < _SETTLED:
        return field, tuple(zip(field.names, row.tolist(), strict=True))
    unique = name if name not in field.names else f"{name} ({len(field.names)})"
    n = len(field.names)
    root = np.zeros((n + 1, n + 1))
    root[:n, :n], root[n, :n], root[n, n] = field.root, row, np.sqrt(left)
    names = (*field.names, unique)
    return FieldStops(names, np.vstack([field.points, point]), root), tuple(
        zip(names, root[n].tolist(), strict=True)
    )
