"""The errors with which a peg goes in, as discs in error space: a convex region that can be integrated and
drawn.

An error is (ex, ey, rx, ry): the tip's lateral offset [m] and its body-frame rotation [rad] in the hole's
frame, z into the hole and out of the tip. In Whitney's sign the tilt is (-ry, rx). Each condition keeps a
linear map of the error inside a disc: capture    |e| < W + cR, and no further than the force limit lets the
chamfer push; force      |tilt + S e| < sqrt(4 cR F/(mu (Ktheta + Kx Lg^2))), the peak of two-point contact;
entry      |tilt + S e| < arccos(d/D); no wedge   |tilt + S e| < c/mu. Source: Whitney 1982 (from memory) for
capture, S and wedging; the force disc is the peak of 2 mu M/l in two-point contact, derived and checked
against the full quasi-static model in the tests.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handfast.uncertainty.chamfer import chamfer_force_rate
from handfast.uncertainty.peg_in_hole import PegInHole, Support
from handfast.uncertainty.two_point import largest_entry_tilt, wedge_tilt

Array = NDArray[np.float64]

_LATERAL = ((1.0, 0.0, 0.0, 0.0), (0.0, 1.0, 0.0, 0.0))


@dataclass(frozen=True, slots=True)
class Disc:
    """The condition |rows @ error| <= radius, rows of shape (2, 4) written as tuples."""

    name: str
    rows: tuple[tuple[float, ...], tuple[float, ...]]
    radius: float


@dataclass(frozen=True, slots=True)
class AllowedRegion:
    """The conditions for going in at one friction, and the one that rules wedging out."""

    capture: Disc
    force: Disc
    entry: Disc
    no_wedge: Disc

    @property
    def goes_in(self) -> tuple[Disc, ...]:
        """The conditions without that on wedging."""
        return self.capture, self.force, self.entry

    @property
    def allowed_lateral(self) -> float:
        """Largest lateral error [m] for a peg without tilt and without possible wedging."""
        slope = abs(self.force.rows[0][0])
        turned = min(self.force.radius, self.entry.radius, self.no_wedge.radius)
        return min(self.capture.radius, turned / slope if slope else math.inf)

    @property
    def allowed_tilt(self) -> float:
        """Largest tilt [rad] for a centred peg without possible wedging."""
        return min(self.force.radius, self.entry.radius, self.no_wedge.radius)


def allowed_region(peg: PegInHole, support: Support, mu: float, force_limit: float) -> AllowedRegion:
    """The region of errors for friction `mu` and an axial force of at most `force_limit` [N].

    Raises ValueError for a force limit that is not positive.
    """
    if not force_limit > 0.0:
        raise ValueError(f"allowed region: expected a positive force limit, found {force_limit} N")
    turned = turned_rows(support)
    rate = chamfer_force_rate(peg, support, mu)
    pushed = min(peg.chamfer_width, force_limit / rate) if math.isfinite(rate) else 0.0
    peak = math.sqrt(4.0 * peg.radial_clearance * force_limit / (mu * support.tip_stiffness))
    return AllowedRegion(
        capture=Disc("capture", _LATERAL, peg.radial_clearance + pushed),
        force=Disc("force", turned, peak),
        entry=Disc("entry", turned, largest_entry_tilt(peg)),
        no_wedge=Disc("no wedge", turned, wedge_tilt(peg, mu)),
    )


def turned_rows(support: Support) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Rows that take an error (ex, ey, rx, ry) to tilt + S e, Whitney's sign."""
    s = support.coupling
    return (s, 0.0, 0.0, -1.0), (0.0, s, 1.0, 0.0)


def inside(discs: tuple[Disc, ...], errors: Array) -> NDArray[np.bool_]:
    """Which of `errors` (n, 4) meet every condition, (n,)."""
    within = np.ones(errors.shape[0], dtype=bool)
    for disc in discs:
        within &= np.linalg.norm(errors @ np.array(disc.rows).T, axis=1) <= disc.radius
    return within
