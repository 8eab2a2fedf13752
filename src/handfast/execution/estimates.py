"""What touches have shown of each mate, by the estimator: the ledger's joint spread of errors and readings,
and the true corners of the part where errors are large.

Prior: the deviation x of the first pair's moving feature in its fixed feature's frame, as the ledger budgets
it before the mate's touches. Reading: travel to contact beyond what was expected,

    r = H x + [g(x) - G x] + e,

H and the covariance of e from the ledger's joint gain K and spread S of all readings (P H^T = K S, R = S - H
P H^T), so that for small errors the estimate is the ledger's own, part variation and arm error included; g
the travel at which the true corners of the held part meet the face, G its line over the prior: what is
left is the curvature of a turned part and the change from one corner to another. Taken in by iterated
statistical linearisation (belief/update.py), all readings so far at once; by particles (belief/particles.py)
where for some reading that curvature varies more over the prior than all else it errs by: which corner it was
may then be open, and no line tells.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from handfast.belief.covariance import checked_covariance
from handfast.belief.particles import particles
from handfast.belief.sensing import Line, fitted_line
from handfast.belief.update import Gaussian, Updated, update
from handfast.model.ledger import Ledger, TouchUpdate
from handfast.spatial.se3 import Array

Travel = Callable[[Array], Array]
"""Twists of the moving feature in the fixed feature's frame (s, 6) -> travel beyond the expected one (s,)
[m]."""
_ITERATIONS = 3


@dataclass(frozen=True, eq=False, slots=True)
class Touched:
    """One reading. element: id of the locate element; surprise: measured - expected travel [m]; travel: of
    the true corners by how the part of `mate` is off, None where their curvature is not known."""

    element: str
    surprise: float
    travel: Travel | None
    mate: str


def estimate(ledger: Ledger, mate: str, touched: tuple[Touched, ...]) -> Updated | None:
    """What is known of a mate after these readings; None if none of them tells anything of it, or the ledger
    does not say how they hang together."""
    row = next((r for r in ledger.rows if r.mate == mate), None)
    updates = [u for u in ledger.updates if u.mate == mate]
    which = {u.element: i for i, u in enumerate(updates)}
    told = [t for t in touched if t.element in which]
    if row is None or not row.prior or not told or any(len(u.spread) != len(updates) for u in updates):
        return None
    P = checked_covariance(row.prior, f"prior of mate {mate!r} in the ledger")
    checked_covariance([u.spread for u in updates], f"readings of mate {mate!r} in the ledger")
    H, R = _readings(P, updates)
    rows = [which[t.element] for t in told]
    # How the parts of other mates are off hangs together with this one's, but bends its readings on its own.
    travels = tuple(t.travel if t.mate == mate else None for t in told)
    flat = tuple(None if t is None else _line(t, np.zeros(6), P) for t in travels)
    sensing = _Joint(H[rows], R[np.ix_(rows, rows)], travels, flat)
    prior, reading = Gaussian(np.zeros(6), P), np.array([t.surprise for t in told])
    found = update(prior, sensing, reading, _ITERATIONS)
    if not sensing.bent:
        return found
    # The same draws for the same question: a run and its replay agree.
    rng = np.random.default_rng([zlib.crc32(mate.encode()), len(told)])
    return replace(found, after=particles(prior, sensing.expected, sensing.R, reading, rng).gaussian())


def summed(ledger: Ledger, mate: str, touched: tuple[Touched, ...]) -> Array:
    """The sum of the ledger's gains (6,), for ledgers that do not say how readings hang together."""
    told = {t.element: t.surprise for t in touched}
    gains = [np.array(u.gain) * told.get(u.element, 0.0) for u in ledger.updates if u.mate == mate]
    return np.asarray(sum(gains, np.zeros(6)))


def _readings(P: Array, updates: list[TouchUpdate]) -> tuple[Array, Array]:
    """H (m, 6) and R (m, m) of all touches of a mate."""
    K = np.array([u.gain for u in updates]).T
    S = np.array([u.spread for u in updates])
    # Metres and radians stand in one matrix; freedoms without any spread tell nothing.
    scale = np.sqrt(np.maximum(np.diag(P), np.finfo(float).tiny))
    scaled = np.linalg.pinv(P / np.outer(scale, scale), rcond=1e-10, hermitian=True)
    H = ((scaled @ ((K @ S) / scale[:, None])) / scale[:, None]).T
    R = S - H @ P @ H.T
    lowest, axes = np.linalg.eigh(0.5 * (R + R.T))
    floor = 1e-6 * np.diag(S).max()  # what rounding may leave below nothing
    return H, np.asarray(axes @ np.diag(np.maximum(lowest, floor)) @ axes.T)


@dataclass(frozen=True, eq=False, slots=True)
class _Joint:
    """The readings together, as belief wants them. flat: the lines of the travels over the prior."""

    H: Array
    R: Array
    travels: tuple[Travel | None, ...]
    flat: tuple[Line | None, ...]

    @property
    def bent(self) -> bool:
        """Whether what a line leaves over of some travel exceeds all else that its reading errs by."""
        own = np.diag(self.R)
        return any(f is not None and f.noise[0, 0] > r for f, r in zip(self.flat, own, strict=True))

    def expected(self, states: Array) -> Array:
        """Readings (s, m) of states (s, 6)."""
        out = states @ self.H.T
        for i, (travel, flat) in enumerate(zip(self.travels, self.flat, strict=True)):
            if travel is not None and flat is not None:
                out[:, i] += travel(states) - states @ flat.H[0]
        return np.asarray(out)

    def linearised(self, mean: Array, covariance: Array) -> Line:
        """The ledger's line, and the line of what the corners add about this state."""
        lines = [
            None if t is None or f is None else _beyond(_line(t, mean, covariance), f)
            for t, f in zip(self.travels, self.flat, strict=True)
        ]
        H, offset, noise = self.H.copy(), np.zeros(len(self.H)), self.R.copy()
        for i, line in enumerate(lines):
            if line is not None:
                H[i] += line.H[0]
                offset[i] = line.offset[0]
                noise[i, i] += line.noise[0, 0]
        return Line(H, offset, noise)


def _line(travel: Travel, mean: Array, covariance: Array) -> Line:
    """The line of the true corners' travel over a spread."""
    return fitted_line(lambda s: travel(s)[:, None], mean, covariance, np.zeros((1, 1)))


def _beyond(bent: Line, flat: Line) -> Line:
    """What g(x) - G x is about a state."""
    return Line(bent.H - flat.H, bent.offset, bent.noise)
