"""Choosing several readings together: coordinate exchange on what is left after all of them.

Choosing one at a time is myopic: a touch that is worth little alone can be worth most beside another. So
a whole set is kept, and each member in turn gives way to the candidate that leaves the least, until none
gives way any more. Source: R. K. Meyer, C. J. Nachtsheim, The coordinate-exchange algorithm for
constructing exact optimal experimental designs, Technometrics 37 (1995) 60-69 (from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from handfast.spatial.se3 import Array

# What a covariance (k, m, m) of what is wanted costs, (k,). Less is better.
Cost = Callable[[Array], Array]
_SWEEPS = 20


@dataclass(frozen=True, eq=False, slots=True)
class Joint:
    """P (m, m): covariance of what is wanted; C (m, c): its covariance with the reading of each
    candidate; S (c, c): of the readings, without noise; noise (c,): variance of each reading of its own,
    drawn anew each time.
    """

    P: Array
    C: Array
    S: Array
    noise: Array

    def given(self, chosen: tuple[int, ...]) -> Joint:
        """What is left once these candidates have been read; one named twice is read twice."""
        if not chosen:
            return self
        index = list(chosen)
        spread = self.S[np.ix_(index, index)] + np.diag(self.noise[index])
        scale = 1 / np.sqrt(np.diag(spread))
        told = np.vstack([self.C[:, index], self.S[:, index]]) * scale
        K = np.linalg.solve(spread * np.outer(scale, scale), told.T).T
        m = len(self.P)
        left = K @ told.T
        return Joint(self.P - left[:m, :m], self.C - left[:m, m:], self.S - left[m:, m:], self.noise)

    def one_more(self) -> Array:
        """P (c, m, m) after each candidate by itself."""
        spread = np.diag(self.S) + self.noise
        told = self.C / np.sqrt(np.where(spread > 0, spread, np.inf))
        return np.asarray(self.P - told.T[:, :, None] * told.T[:, None, :])

    def worth(self, cost: Cost, taken: tuple[int, ...]) -> Array:
        """Cost (c,) of each candidate beside those taken; infinite for a repeat that would read the same
        again.
        """
        costs = np.array(cost(self.given(taken).one_more()))
        same = [i for i in taken if self.noise[i] <= 0]
        costs[same] = np.inf
        return costs


def exchange(
    joint: Joint,
    cost: Cost,
    count: int,
    rng: np.random.Generator,
    required: tuple[int, ...] = (),
    starts: int = 4,
) -> tuple[tuple[int, ...], float]:
    """The set of `count` candidates, the required ones among them, that leaves the least cost; and that cost.

    Starts from the greedy set and from `starts` drawn ones. Raises ValueError where more are required
    than asked for, or there is no candidate.
    """
    c = len(joint.noise)
    free = count - len(required)
    if free < 0 or (free > 0 and c == 0):
        raise ValueError(f"exchange: expected {count} of {c} candidates, {len(required)} of them required")
    begun = [_greedy(joint, cost, free, required)]
    others = [i for i in range(c) if i not in required]
    if 1 < free <= len(others):
        begun += [tuple(int(i) for i in rng.choice(others, free, replace=False)) for _ in range(starts)]
    ended = [_improved(joint, cost, begin, required) for begin in begun]
    best = min(ended, key=lambda e: e[1])
    return (*required, *best[0]), best[1]


def _greedy(joint: Joint, cost: Cost, free: int, required: tuple[int, ...]) -> tuple[int, ...]:
    chosen: tuple[int, ...] = ()
    for _ in range(free):
        chosen = (*chosen, int(np.argmin(joint.worth(cost, (*required, *chosen)))))
    return chosen


def _improved(
    joint: Joint, cost: Cost, chosen: tuple[int, ...], required: tuple[int, ...]
) -> tuple[tuple[int, ...], float]:
    """Exchange until no member gives way."""
    now = float(cost(joint.given((*required, *chosen)).P[None])[0])
    for _ in range(_SWEEPS):
        before = now
        for slot in range(len(chosen)):
            rest = (*chosen[:slot], *chosen[slot + 1 :])
            costs = joint.worth(cost, (*required, *rest))
            best = int(np.argmin(costs))
            if costs[best] < now * (1 - 1e-9):
                chosen, now = (*chosen[:slot], best, *chosen[slot + 1 :]), float(costs[best])
        if now >= before:
            break
    return chosen, now
