"""Two sequences in time: a shortest path in the plane of the two hands' own times.

Each hand's sequence is fixed. A point of the plane says how far either hand has come; both may go on together
(the diagonal), or one goes on while the other waits, which it does only between two elements. Cells in which
the arms would meet, and cells that break a precedence, are closed; the quickest way from corner to corner is
the best timing there is on this grid.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handfast import _kernel

Cells = NDArray[np.bool_]
Before = tuple[int, int, bool, int]
"""Element i of the first hand, j of the second, forwards, steps: j does not begin before so many steps of i
are done; or the other way round if not forwards."""
_NEVER = 1 << 30  # steps


@dataclass(frozen=True, eq=False, slots=True)
class Schedule:
    """Start of each element of either hand, in steps of the grid; makespan in steps."""

    first: tuple[int, ...]
    second: tuple[int, ...]
    makespan: int


def quickest(first: list[int], second: list[int], closed: Cells) -> Schedule | None:
    """The quickest timing of two sequences; None if none keeps to the open cells.

    first, second: length of each element [steps]; closed: (sum(first) + 1, sum(second) + 1), True where the
    hands must not be at these points of their own times.
    """
    ends_a, ends_b = _ends(first), _ends(second)
    cost = _kernel.least_steps(ends_a, ends_b, closed, _NEVER)
    if cost[-1, -1] >= _NEVER:
        return None
    path = _way_back(cost, ends_a, ends_b, closed)
    return Schedule(_starts(path[:, 0], first), _starts(path[:, 1], second), int(cost[-1, -1]))


def closed_before(first: list[int], second: list[int], before: list[Before]) -> Cells:
    """Cells closed by precedences."""
    a, b = np.concatenate([[0], np.cumsum(first)]), np.concatenate([[0], np.cumsum(second)])
    closed = np.zeros((a[-1] + 1, b[-1] + 1), dtype=bool)
    for i, j, forwards, steps in before:
        if forwards:
            closed[: a[i] + steps, b[j] + 1 :] = True
        else:
            closed[a[i] + 1 :, : b[j] + steps] = True
    return closed


def with_margin(met: Cells, steps: int) -> Cells:
    """Cells in which the arms would meet if either hand were up to `steps` early or late."""
    out = met.copy()
    for shift in range(1, steps + 1):
        out[shift:] |= met[:-shift]
        out[:-shift] |= met[shift:]
        out[:, shift:] |= met[:, :-shift]
        out[:, :-shift] |= met[:, shift:]
    return out


def _ends(lengths: list[int]) -> Cells:
    """Where in its own time a hand stands between two elements."""
    marks = np.zeros(sum(lengths) + 1, dtype=bool)
    marks[np.concatenate([[0], np.cumsum(lengths)])] = True
    return marks


def _way_back(cost: NDArray[np.int32], ends_a: Cells, ends_b: Cells, closed: Cells) -> NDArray[np.int64]:
    """The cells of a quickest way, from start to end, (k, 2); going on together is preferred."""
    i, j = cost.shape[0] - 1, cost.shape[1] - 1
    path = [(i, j)]
    while i or j:
        cuts = i and j and (closed[i - 1, j] or closed[i, j - 1])
        if i and j and not cuts and cost[i - 1, j - 1] + 1 == cost[i, j]:
            i, j = i - 1, j - 1
        elif i and ends_b[j] and cost[i - 1, j] + 1 == cost[i, j]:
            i -= 1
        elif ends_a[i] and j:
            j -= 1
        path.append((i, j))
    return np.array(path[::-1])


def _starts(own: NDArray[np.int64], lengths: list[int]) -> tuple[int, ...]:
    """When each element starts: the last step at which the hand still stands at its beginning."""
    begins = np.concatenate([[0], np.cumsum(lengths)])[:-1]
    return tuple(int(np.searchsorted(own, begin, side="right")) - 1 for begin in begins)
