"""An arm's accuracy as a smooth field: near stops err alike, far ones do not.

The field's values at the stops are jointly normal, correlated by exp(-d^2/(2 L^2)) over the distance d
between tips (squared exponential; common practice for smooth fields, no source for its shape on an arm).
Row by row of a Cholesky factor they become sums of independent draws, one more for each new stop, so an
error form can carry them. Each freedom of the tip's twist is such a field by itself.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.spatial.se3 import Array

# Keeps the factor regular where two stops coincide: they then differ by 1e-5 of the field's sigma.
_NUGGET = 1e-10


@dataclass(frozen=True, eq=False, slots=True)
class FieldStops:
    """The stops so far. names (n); points (n, 3) [m] in the world; root: lower Cholesky factor (n, n) of
    their correlation.
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
    known = [i for i, n in enumerate(field.names) if n == name and np.array_equal(field.points[i], point)]
    if known:
        return field, tuple(zip(field.names, map(float, field.root[known[0]]), strict=True))
    unique = name if name not in field.names else f"{name} ({len(field.names)})"
    distances = np.linalg.norm(field.points - point, axis=1)
    correlation = np.exp(-0.5 * (distances / length) ** 2)
    row = np.linalg.solve(field.root, correlation) if len(correlation) else correlation
    last = np.sqrt(max(1 + _NUGGET - float(row @ row), _NUGGET))
    n = len(field.names)
    root = np.zeros((n + 1, n + 1))
    root[:n, :n], root[n, :n], root[n, n] = field.root, row, last
    names = (*field.names, unique)
    return FieldStops(names, np.vstack([field.points, point]), root), tuple(
        zip(names, map(float, root[n]), strict=True)
    )
