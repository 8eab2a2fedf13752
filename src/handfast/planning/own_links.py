"""Whether an arm runs into itself where the covers do not look: exact, and certain between samples.

The covers of links that stand close overlap even where the links do not touch, and so do those of the wrist
and of what is mounted on it. Such pairs are left to the exact shapes.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from handfast.geometry.body import Body, distance
from handfast.kinematics.forward import forward_links
from handfast.planning.clear_line import NEAR, Hit
from handfast.planning.failure import Failure
from handfast.planning.hand import Hand, link_bodies
from handfast.planning.state import State
from handfast.planning.workspace import Workspace
from handfast.spatial.se3 import Array

_ENOUGH = 0.15  # what is farther apart is not measured [m]
_FAR = 0.05  # balls around two bodies that stay so far apart say enough [m]


@dataclass(frozen=True, eq=False, slots=True)
class _Pair:
    """Two bodies of one arm, each with the number of its link and T_link_body. sweep: how far any point of
    the second moves against the first for each joint's radian, (n,) [m/rad]; balls: around each of them,
    middle in the frame of the link and radius (4,) [m]."""

    first: Body
    link: int
    second: Body
    other: int
    T_other_second: Array
    sweep: Array
    balls: tuple[Array, Array]


class _Pairs:
    """The pairs of one arm with what it carries, and the balls around them as tables."""

    def __init__(self, pairs: tuple[_Pair, ...]) -> None:
        self.pairs = pairs
        self._links = np.array([[p.link + 1, p.other + 1] for p in pairs]).reshape(-1, 2)
        balls = np.array([p.balls for p in pairs]).reshape(-1, 2, 4)
        self._middles, self._apart = balls[:, :, :3, None], balls[:, :, 3].sum(axis=1) + _FAR

    def near(self, frames: Array) -> list[_Pair]:
        """Those that do not stay far apart in all link frames (m, n + 2, 4, 4)."""
        T = frames[:, self._links]
        at = (T[..., :3, :3] @ self._middles)[..., 0] + T[..., :3, 3]
        between = at[:, :, 0] - at[:, :, 1]
        least = (between * between).sum(axis=2).min(axis=0)
        return [self.pairs[k] for k in np.flatnonzero(least <= self._apart**2)]


def own_hit(ws: Workspace, state: State, hand: str, q: Array) -> Hit | None:
    """The first two bodies of a hand and its arm that come nearer than NEAR on the way q (m, n), or None.

    Links, gripper and what it carries, where the covers do not test them. Between two samples the bodies move
    by less than the clearance they have there, unless the samples themselves lie farther apart. What stands
    round the arm is no matter, so that the answer holds in every state in which it carries the same.
    """
    load = tuple((name, T.tobytes()) for name, T in ws.carried(state, hand))
    key = (hand, state.widths[hand], load, q.tobytes())
    if key not in ws.own:
        ws.own[key] = _own_hit(ws, state, hand, q)
    return ws.own[key]


def _own_hit(ws: Workspace, state: State, hand: str, q: Array) -> Hit | None:
    pairs = state.once_of(hand, ("own pairs",), lambda: _Pairs(tuple(_pairs(ws, state, hand))))
    if not pairs.pairs:
        return None
    frames, turns = forward_links(ws.hands[hand].chain, q), np.abs(np.diff(q, axis=0))
    for pair in pairs.near(frames):
        hit = _along(pair, frames, np.concatenate([[0.0], np.cumsum(turns @ pair.sweep)]))
        if hit is not None:
            return hit
    return None


def on_itself(hand: str, hit: Hit) -> Failure:
    """The failure of an arm that runs into itself."""
    text = f"{hand} arm on itself, {hit.moving} on {hit.standing}"
    return Failure("collision on the way", text, hit.short_by, hit.standing)


def _along(pair: _Pair, frames: Array, moved: Array) -> Hit | None:
    """moved: how far the second body may have moved against the first up to each sample, (m,) [m]."""
    i = 0
    while i < len(moved):
        there = frames[i, pair.other + 1] @ pair.T_other_second
        enough = min(_ENOUGH, moved[-1] - moved[i] + NEAR)  # what is farther is safe to the end
        d = distance(pair.second, there, pair.first, frames[i, pair.link + 1], enough)
        if d < NEAR:
            return Hit(pair.second.name, pair.first.name, d)
        safe = moved[i] + d - NEAR / 2
        if moved[-1] <= safe:
            return None
        i = max(i + 1, int(np.searchsorted(moved, safe, side="right")) - 1)
    return None


def _pairs(ws: Workspace, state: State, hand: str) -> Iterator[_Pair]:
    """Pairs that can meet and that the covers do not test: links that are no neighbours; gripper and load
    against every link that does not move with them."""
    h = ws.hands[hand]
    n, tested, bodies = h.chain.n, {(a, b) for a, b in h.pairs.tolist()}, dict(link_bodies(h))
    for a, first in bodies.items():
        for b, second in bodies.items():
            if b >= a + 2 and (a, b) not in tested and not (a == n - 2 and b == n):
                yield _pair(h, a, first, b, second, np.eye(4))
        if a <= n - 2 and (a, n) not in tested:
            for second, T_grip in ws.moving(state, hand):
                yield _pair(h, a, first, n, second, h.mount @ T_grip)


def _pair(h: Hand, a: int, first: Body, b: int, second: Body, T_b_second: Array) -> _Pair:
    chain, ball = h.chain, _ball(second, T_b_second)
    out, sweep = float(np.linalg.norm(ball[:3])) + ball[3], np.zeros(chain.n)
    for j in range(a + 1, min(b, chain.n - 1) + 1):
        arm = np.linalg.norm(chain.placements[j + 1 : b + 1, :3, 3], axis=1).sum()
        sweep[j] = out + arm + (np.linalg.norm(chain.tip[:3, 3]) if b == chain.n else 0.0)
    return _Pair(first, a, second, b, T_b_second, sweep, (_own_ball(first), ball))


def _ball(body: Body, T_link_body: Array) -> Array:
    """Middle and radius (4,) [m] of a ball around a body, in the frame of the link."""
    own = _own_ball(body)
    return np.append(T_link_body[:3, :3] @ own[:3] + T_link_body[:3, 3], own[3])


@lru_cache(maxsize=256)
def _own_ball(body: Body) -> Array:
    """The same in the body's own frame."""
    middles = np.array([(p.pose @ np.append(p.middle, 1.0))[:3] for p in body.pieces])
    middle = (middles.min(axis=0) + middles.max(axis=0)) / 2
    radii = np.linalg.norm(middles - middle, axis=1) + [p.radius for p in body.pieces]
    return np.append(middle, radii.max())
