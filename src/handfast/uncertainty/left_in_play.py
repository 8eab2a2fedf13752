"""Where contact leaves a part in the play of its fit.

The hand yields, the fit does not: a shaft that the hand would hold off its hole's axis by more than the play
ends against the wall on that side, one that it holds within the play stays where the hand has it. Of the
places that the fit leaves it takes p(d), the one at which the hand, a spring at its grip, is bent least
(held_back): a hand that grips far above a short hole also leans the shaft in it. What is left of the error
lies on the side that the hand came from: a screw that comes with the same error finds the hole shifted
towards it. The form takes the best linear part of p (statistical linearisation: least squares over the
distribution of d) and gives what is left over to the play, an error source of the fit's own; draws of whole
builds take p itself.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np

from handfast.model.mate import Mate
from handfast.model.project import Project
from handfast.spatial.se3 import Array
from handfast.uncertainty.directional import points
from handfast.uncertainty.error_form import Form, added, covariance, mapped
from handfast.uncertainty.fit_of_pair import clearance_spread, hole_and_shaft
from handfast.uncertainty.held_back import Floats, Hold, held_back, hold_of
from handfast.uncertainty.instances import Instance, Variances
from handfast.uncertainty.play import engaged_length, play_ends

_POINTS = 4096
# Added to the spread of what is left over, as a share of the radial clearance: its root must exist.
_LEAST = 1e-4


@dataclass(frozen=True, eq=False, slots=True)
class LeftInPlay:
    """pushed: offsets of the shaft's axis from the hole's at the mouth, or at mouth and end, if nothing
    held it (k = 2 or 4 rows) [m]; gain (k, k), spread (k, k), mean (k,): p = mean + gain (d - E d) + spread
    u; freedoms (k,): of the play that u stands for; middle, sigma: of the radial clearance [m]; hold: how the
    hand holds mouth and end, None where only the mouth is limited."""

    play: Instance
    pushed: Form
    gain: Array
    spread: Array
    mean: Array
    freedoms: tuple[int, ...]
    middle: float
    sigma: float
    hold: Hold | None

    def form(self, variances: Variances, place: str) -> Form:
        """What is left (six rows: freedoms of the play)."""
        rows = np.eye(6)[:, self.freedoms]
        J = np.zeros((6, 6))
        J[:, self.freedoms] = rows @ self.spread / np.sqrt(variances(self.play)[list(self.freedoms)])
        follows = mapped(rows @ self.gain, self.pushed)
        shift = rows @ self.mean - follows.mean
        own = Form({self.play: J}, shift, {self.play: frozenset((place,))}, follows.draws)
        return added(follows, own)

    def unit(self, pushed: Floats, size: Floats) -> Floats:
        """Unit draws of the play (k, n) for offsets (k, n) [m] and standard normal draws of the size (n,), as
        precise as these."""
        over = held_back(pushed, np.maximum(self.middle + self.sigma * size, 0.0), self.hold)
        over -= self.gain.astype(pushed.dtype) @ pushed
        over -= (self.mean - self.gain @ self.pushed.mean).astype(pushed.dtype)[:, None]
        return np.asarray(np.linalg.inv(self.spread).astype(pushed.dtype) @ over)


def left_in_play(
    mate: Mate, project: Project, play: Instance, delta: Form, grip: float, variances: Variances
) -> LeftInPlay:
    """For a mate whose first pair leaves clearance. delta: its deviation as it came in (6 rows); grip: z of
    the hand's grip in the fixed feature's frame, the part at home [m]."""
    product = project.product
    found = hole_and_shaft(product, mate, mate.pairs[0])
    if found is None:
        raise ValueError(f"mate {mate.name!r}: expected a hole with a shaft first, found none")
    across, spread = clearance_spread(*found)
    middle, sigma = across / 2, spread / 2
    ends, freedoms = play_ends(mate, product)
    hold = _hold(mate, project, grip) if len(freedoms) > 2 else None
    pushed = mapped(ends, delta)
    d = _drawn(pushed, variances)
    p = held_back(d, np.maximum(middle + sigma * _size(len(d)), 0.0), hold)
    mean_d, mean = d.mean(axis=1, keepdims=True), p.mean(axis=1, keepdims=True)
    gain = (p - mean) @ (d - mean_d).T @ np.linalg.pinv((d - mean_d) @ (d - mean_d).T, rcond=1e-9)
    over = p - mean - gain @ (d - mean_d)
    square = over @ over.T / d.shape[1] + (_LEAST * max(middle, sigma)) ** 2 * np.eye(len(d))
    root = np.linalg.cholesky(square)
    return LeftInPlay(play, pushed, gain, root, mean[:, 0], freedoms, middle, sigma, hold)


def _hold(mate: Mate, project: Project, grip: float) -> Hold:
    controller, first = project.cell.controller, mate.pairs[0]
    length = engaged_length(first, mate, project.product)
    beyond = grip / math.copysign(length, first.depth)
    return hold_of(controller.lateral_stiffness, controller.angular_stiffness, beyond, length)


def _drawn(pushed: Form, variances: Variances) -> Array:
    """Offsets that the hand would have (k, n); always the same."""
    k = pushed.rows
    square, axes = np.linalg.eigh(covariance(pushed, variances))
    return np.asarray(pushed.mean[:, None] + (axes * np.sqrt(np.maximum(square, 0.0))) @ _normal(k)[:k])


def _size(k: int) -> Array:
    """Standard normal draws of the clearance, (n,), that go with them."""
    size: Array = _normal(k)[k]
    return size


@cache
def _normal(k: int) -> Array:
    """Standard normal (k + 2, n), k even (Box and Muller 1958)."""
    uniform = points(_POINTS, k + 2)
    half = uniform.shape[1] // 2
    radius = np.sqrt(-2 * np.log(np.maximum(uniform[:, :half], 1e-300)))
    angle = 2 * np.pi * uniform[:, half:]
    return np.concatenate([radius * np.cos(angle), radius * np.sin(angle)], axis=1).T
