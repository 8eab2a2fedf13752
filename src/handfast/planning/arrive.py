"""Getting to a station: a free path to the start of its straight lines, on each branch of the arm that
works."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import chain

import numpy as np

from handfast import _kernel
from handfast.model.motion import Motion
from handfast.planning.connect import ROOM, clear_of_others, connect, roomy
from handfast.planning.failure import Failure
from handfast.planning.retest import covers
from handfast.planning.state import State
from handfast.planning.station import Lines, line_between, line_motion, stations, tested
from handfast.planning.workspace import Workspace
from handfast.spatial.se3 import Array

Speeds = tuple[float, ...]
_SAME = 1e-9  # joints that differ by less are the same [rad]


@dataclass(frozen=True, eq=False, slots=True)
class _Driven:
    """Lines as they were driven in an earlier chart."""

    lines: Lines
    motions: tuple[Motion, ...]


def arrivals(
    ws: Workspace,
    state: State,
    hand: str,
    grips: list[Array],
    speeds: Speeds,
    seed: int,
    after: Callable[[Lines], State] | None = None,
    own_pace: int | None = None,
) -> Iterator[tuple[Motion, tuple[Motion, ...], Lines] | Failure]:
    """The free motion to the first grip pose, the line motions between the others and their waypoints; or
    failures.

    speeds: of each line [m/s]; after: the state at the end of the lines, in which the hand must have its
    free-space clearance again; own_pace: the line whose speed does not come from the controller alone. Lines
    that an earlier chart has are tried first.
    """
    h = ws.hands[hand]
    old = _as_before(ws, state, hand, grips, speeds, own_pace)
    found = stations(
        ws,
        state,
        hand,
        grips,
        state.q[hand],
        room=lambda start: clear_of_others(ws, state, hand, start),
        but=None if old is None else old.lines[0][0],
    )
    for lines in found if old is None else chain([old.lines], found):
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
        if old is not None and lines is old.lines:
            yield free, old.motions, lines
            continue
        motions = tuple(
            line_motion(h, q, a, b, v)
            for q, a, b, v in zip(lines, grips[:-1], grips[1:], speeds, strict=True)
        )
        yield free, motions, lines


def _as_before(
    ws: Workspace, state: State, hand: str, grips: list[Array], speeds: Speeds, own_pace: int | None
) -> _Driven | None:
    """The lines through these grip poses as an earlier chart drove them at these speeds, if it did and they
    keep clear. A line at a pace of its own is made anew on the same branch of the arm."""
    controller, h = ws.project.cell.controller, ws.hands[hand]
    found = None if ws.old is None or ws.dry else ws.old.lines(hand, grips)
    if found is None:
        return None
    lines, motions = list[Array](), list[Motion]()
    for k, old in enumerate(found[0]):
        q, motion = np.array(old.q), old
        if k == own_pace or speeds[k] not in (controller.line_speed, controller.insert_speed):
            anew = line_between(h, grips[k], grips[k + 1], q[0])
            if anew is None:
                return None
            q, motion = anew, line_motion(h, anew, grips[k], grips[k + 1], speeds[k])
        if lines and np.abs(q[0] - lines[-1][-1]).max() > _SAME:
            return None
        lines.append(q)
        motions.append(motion)
    return _Driven(tuple(lines), tuple(motions)) if _kept(ws, found[1], state, hand, tuple(lines)) else None


def _kept(ws: Workspace, then: State, now: State, hand: str, lines: Lines) -> bool:
    """Whether the arm keeps clear on lines of before, with room at their beginning: of what differs, and if
    what the hand carries does, of everything and of itself."""
    differing = None if ws.old is None else ws.old.differing(then, now, hand)
    if differing is None or then.widths[hand] != now.widths[hand]:
        room = clear_of_others(ws, now, hand, lines[0][0])
        return room is None and not isinstance(tested(ws, now, hand, lines), Failure)
    if not differing:
        return True
    world, links = covers(ws, now, differing), ws.hand_cover(now, hand, reach=False)
    clear = float(_kernel.clearance(ws.hand_cover(now, hand), world, lines[0][:1])[0])
    return clear >= ROOM + ws.margin and bool(_kernel.free(links, world, np.concatenate(lines)).all())
