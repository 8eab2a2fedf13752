"""Joint waypoints for a hand's straight lines at one station, on every branch of the arm."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import pairwise

import numpy as np

from handfast import _kernel
from handfast.kinematics.inverse import inverse, reaches
from handfast.model.motion import Motion
from handfast.motion.line import between, waypoints
from handfast.motion.timing import timed
from handfast.planning.failure import Failure
from handfast.planning.hand import Hand
from handfast.planning.own_links import on_itself, own_hit
from handfast.planning.state import State
from handfast.planning.workspace import Workspace
from handfast.spatial.se3 import Array

Lines = tuple[Array, ...]
_FINE, _COARSE = 0.001, 0.01  # distance between waypoints on a line [m]
_BESIDE = 1e-6  # joints that differ by less are on one branch [rad]


def reachable(hand: Hand, T_world_grip: Array) -> np.ndarray:
    """Which grip poses (m, 4, 4) the arm reaches on some branch, (m,)."""
    return reaches(hand.chain, hand.tip_for(T_world_grip))


def stations(
    ws: Workspace,
    state: State,
    hand: str,
    grips: list[Array],
    near: Array,
    coarse: bool = False,
    room: Callable[[Array], Failure | None] | None = None,
    but: Array | None = None,
) -> Iterator[Lines | Failure]:
    """Waypoints along the polyline of grip poses on each branch, those nearest to `near` (n,) first.

    Links are kept clear of everything by their covers; gripper and load are the exact tests' business.
    Failures say on which branch what was missing. coarse: only to see whether there is a way. room: what a
    branch lacks at the first pose already, which costs less to find out than the lines do. but: where a
    branch begins that is left out (n,).
    """
    h = ws.hands[hand]
    q, valid = inverse(h.chain, h.tip_for(grips[0])[None], near)
    found = q[0][valid[0]]
    if not len(found):
        yield out_of_reach(h, grips[0], f"{hand} arm")
        return
    order = np.argsort(np.abs(found - near).max(axis=1), kind="stable")
    for start in found[order]:
        if but is not None and np.abs(start - but).max() < _BESIDE:
            continue
        ws.effort.spend(1)
        tight = None if room is None else room(start)
        if tight is not None:
            yield tight
            continue
        lines = _lines(h, grips, start, _COARSE if coarse or ws.dry else _FINE)
        if len(lines) < len(grips) - 1:
            yield Failure("joint limit", f"{hand} arm on a straight line")
        else:
            yield tested(ws, state, hand, lines)


def _lines(h: Hand, grips: list[Array], start: Array, step: float) -> Lines:
    """Waypoints between grip poses on the branch of `start`, as far as it leads."""
    lines: list[Array] = []
    for a, b in pairwise(grips):
        begin = lines[-1][-1] if lines else start
        line = line_between(h, a, b, begin, step)
        if line is None and step > _FINE:  # a coarse step may jump where fine ones do not
            line = line_between(h, a, b, begin)
        if line is None:
            break
        lines.append(line)
    return tuple(lines)


def line_between(h: Hand, a: Array, b: Array, begin: Array, step: float = _FINE) -> Array | None:
    """Waypoints (k, n) on the line between two grip poses, `step` [m] apart, on the branch of `begin` (n,);
    None as `waypoints`."""
    return waypoints(h.chain, h.tip_for(between(a, b, step)), begin)


def tested(ws: Workspace, state: State, hand: str, lines: Lines) -> Lines | Failure:
    """The lines, if the arm's links keep clear on them of everything and of each other."""
    q, links, world = np.concatenate(lines), ws.hand_cover(state, hand, reach=False), ws.world(state, hand)
    if not _kernel.free(links, world, q).all():
        name, clear = ws.tightest(state, hand, q, reach=False)
        return Failure("collision on the way", f"{hand} arm's links on {name}", -clear, name)
    own = own_hit(ws, state, hand, q)
    return lines if own is None else on_itself(hand, own)


def out_of_reach(
    hand: Hand, T_world_grip: Array, text: str, of: tuple[object, ...] = (), far: float | None = None
) -> Failure:
    """The failure of a grip pose that the arm reaches on no branch. text: what does not reach what; of: the
    candidate; far: what `from_shoulder` says, if it is known."""
    far = float(from_shoulder(hand, T_world_grip)) if far is None else far
    short = max(0.0, far - hand.length)
    if short <= 0:
        text = f"{text}, {1e3 * far:.0f} mm from its shoulder: its joints do not turn the hand that way there"
    return Failure("out of reach", text, short, of=of)


def beyond_reach(hand: Hand, T_world_grip: Array) -> float:
    """How far the wrist would have to reach past the arm's length, a rough measure for a person [m]."""
    return max(0.0, float(from_shoulder(hand, T_world_grip)) - hand.length)


def from_shoulder(hand: Hand, T_world_grip: Array) -> Array:
    """How far the flange is from the shoulder at grip poses (..., 4, 4) [m]."""
    shoulder = hand.chain.base[:3, 3] + hand.chain.placements[0, :3, 3]
    return np.asarray(np.linalg.norm(hand.tip_for(T_world_grip)[..., :3, 3] - shoulder, axis=-1))


def line_motion(hand: Hand, line: Array, T_a: Array, T_b: Array, speed: float) -> Motion:
    """The timed motion along one line of a station at no more than `speed` [m/s]."""
    length = float(np.linalg.norm(T_b[:3, 3] - T_a[:3, 3]))
    least = np.full(len(line) - 1, length / speed / (len(line) - 1))
    return timed(hand.chain, line, "line", least)
