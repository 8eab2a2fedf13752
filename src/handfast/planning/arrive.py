"""Getting to a station: a free path to the start of its straight lines, on each branch of the arm that
works."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from handfast.model.motion import Motion
from handfast.planning.connect import connect, roomy
from handfast.planning.failure import Failure
from handfast.planning.state import State
from handfast.planning.station import Lines, line_motion, stations
from handfast.planning.workspace import Workspace
from handfast.spatial.se3 import Array

Speeds = tuple[float, ...]


def arrivals(
    ws: Workspace,
    state: State,
    hand: str,
    grips: list[Array],
    speeds: Speeds,
    seed: int,
    after: Callable[[Lines], State] | None = None,
) -> Iterator[tuple[Motion, tuple[Motion, ...], Lines] | Failure]:
    """The free motion to the first grip pose, the line motions between the others and their waypoints; or
    failures.

    speeds: of each line [m/s]; after: the state at the end of the lines, in which the hand must have its
    free-space clearance again.
    """
    h = ws.hands[hand]
    found = stations(ws, state, hand, grips, state.q[hand], room=lambda start: roomy(ws, state, hand, start))
    for lines in found:
        if isinstance(lines, Failure):
            yield lines
            continue
        tight = None
        if after is not None:
            end = after(lines)
            tight = roomy(ws, end, hand, end.q[hand])
        free = tight or connect(ws, state, hand, lines[0][0], seed)
        if isinstance(free, Failure):
            yield free
            continue
        motions = tuple(
            line_motion(h, q, a, b, v)
            for q, a, b, v in zip(lines, grips[:-1], grips[1:], speeds, strict=True)
        )
        yield free, motions, lines
