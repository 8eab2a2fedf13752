"""Where contact leaves a part in the play of its fit.

The hand yields, the fit does not: a shaft that the hand would hold off its hole's axis by more than the play
ends against the wall on that side, one that it holds within the play stays where the hand has it. So at
either end of the engaged length the offset is pushed back to the disc of the radial clearance,

    p(d) = d min(1, R / |d|),

and what is left of the error lies on the side that the hand came from: a screw that comes with the same
error finds the hole shifted towards it. The form takes the best linear part of p (statistical linearisation:
least squares over the distribution of d) and gives what is left over to the play, an error source of the
fit's own; draws of whole builds take p itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handfast.model.mate import Mate
from handfast.model.product import Product
from handfast.spatial.se3 import Array
from handfast.uncertainty.directional import points
from handfast.uncertainty.error_form import Form, added, covariance, mapped
from handfast.uncertainty.fit_of_pair import clearance_spread, hole_and_shaft
from handfast.uncertainty.instances import Instance, Variances
from handfast.uncertainty.play import play_ends

_POINTS = 4096
Floats = NDArray[np.floating[Any]]
# Added to the spread of what is left over, as a share of the radial clearance: its root must exist.
_LEAST = 1e-4


@dataclass(frozen=True, eq=False, slots=True)
class LeftInPlay:
    """pushed: offsets of the shaft's axis from the hole's at the mouth, or at mouth and end, if nothing
    held it (k = 2 or 4 rows) [m]; gain (k, k), spread (k, k), mean (k,): p = mean + gain (d - E d) + spread
    u; freedoms (k,): of the play that u stands for; middle, sigma: of the radial clearance [m]."""

    play: Instance
    pushed: Form
    gain: Array
    spread: Array
    mean: Array
    freedoms: tuple[int, ...]
    middle: float
    sigma: float

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
        over = _held_back(pushed, np.maximum(self.middle + self.sigma * size, 0.0))
        over -= self.gain.astype(pushed.dtype) @ pushed
        over -= (self.mean - self.gain @ self.pushed.mean).astype(pushed.dtype)[:, None]
        return np.asarray(np.linalg.inv(self.spread).astype(pushed.dtype) @ over)


def left_in_play(
    mate: Mate, product: Product, play: Instance, delta: Form, variances: Variances
) -> LeftInPlay:
    """For a mate whose first pair leaves clearance. delta: its deviation as it came in (6 rows)."""
    found = hole_and_shaft(product, mate, mate.pairs[0])
    if found is None:
        raise ValueError(f"mate {mate.name!r}: expected a hole with a shaft first, found none")
    across, spread = clearance_spread(*found)
    middle, sigma = across / 2, spread / 2
    ends, freedoms = play_ends(mate, product)
    pushed = mapped(ends, delta)
    d, p = _drawn(pushed, variances, middle, sigma)
    mean_d, mean = d.mean(axis=1, keepdims=True), p.mean(axis=1, keepdims=True)
    gain = (p - mean) @ (d - mean_d).T @ np.linalg.pinv((d - mean_d) @ (d - mean_d).T, rcond=1e-9)
    over = p - mean - gain @ (d - mean_d)
    square = over @ over.T / d.shape[1] + (_LEAST * max(middle, sigma)) ** 2 * np.eye(len(d))
    return LeftInPlay(play, pushed, gain, np.linalg.cholesky(square), mean[:, 0], freedoms, middle, sigma)


def _drawn(pushed: Form, variances: Variances, middle: float, sigma: float) -> tuple[Array, Array]:
    """Offsets that the hand would have (k, n), and those that the fit lets it have; always the same."""
    k = pushed.rows
    square, axes = np.linalg.eigh(covariance(pushed, variances))
    normal = _normal(points(_POINTS, k + 2))
    d = pushed.mean[:, None] + (axes * np.sqrt(np.maximum(square, 0.0))) @ normal[:k]
    return d, np.asarray(_held_back(d, np.maximum(middle + sigma * normal[k], 0.0)), dtype=np.float64)


def _normal(uniform: Array) -> Array:
    """Standard normal (c, n) from points (n, c) in the cube, c even (Box and Muller 1958)."""
    half = uniform.shape[1] // 2
    radius = np.sqrt(-2 * np.log(np.maximum(uniform[:, :half], 1e-300)))
    angle = 2 * np.pi * uniform[:, half:]
    return np.concatenate([radius * np.cos(angle), radius * np.sin(angle)], axis=1).T


def _held_back(d: Floats, radius: Floats) -> Floats:
    """Each pair of rows of d (k, n) brought into the disc of the radius (n,)."""
    out = np.array(d)
    for i in range(0, len(d), 2):
        size = np.hypot(d[i], d[i + 1])
        out[i : i + 2] *= np.minimum(1.0, radius / np.maximum(size, 1e-15))
    return out
