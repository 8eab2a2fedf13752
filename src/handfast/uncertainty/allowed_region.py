"""The errors with which a peg goes in, as discs in error space: a convex region that can be integrated and
drawn.

An error is (ex, ey, rx, ry): the tip's lateral offset [m] and its body-frame rotation [rad] in the hole's
frame, z into the hole and out of the tip. In Whitney's sign the tilt is (-ry, rx). Each condition keeps a
linear map of the error inside a disc: capture    |e| < W + cR, and no further than the force limit lets the
chamfer push; force      |tilt + S' e| < sqrt(4 cR F/(mu K')), S' = Kx (Lg - mu r)/K', K' = Ktheta + Kx Lg (Lg
- mu r): the peak of two-point contact, at l = 4 cR/tilt; at full depth L, if that comes first, F L/(2 mu K')
+ 2 cR/L; entry      |tilt + S e| < arccos(d/D); no wedge   |a tilt + b e| < 2 cR/(mu d) + b cR: one-point
contact at l = mu d stays below the tilt of two-point contact there, a = (C Lg + Ktheta)/D, b = C/D, C = Kx
(Lg - l - mu r), D = C (Lg - l) + Ktheta. Whitney's quick form is |tilt + S e'| < c/mu.

Source: Whitney 1982 (from memory) for capture, S and one-point contact; the force disc is the peak of 2 mu
M/l in two-point contact, derived. It leaves out the lateral spring's small share mu Kx (e + Lg tilt). Against
the full planar model the discs judge about 1 % of draws differently.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handfast.uncertainty.chamfer import chamfer_force_rate
from handfast.uncertainty.peg_in_hole import PegInHole, Support
from handfast.uncertainty.two_point import largest_entry_tilt

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
        discs = (self.capture, self.force, self.entry, self.no_wedge)
        slopes = [abs(disc.rows[0][0]) for disc in discs]
        return min(disc.radius / slope for disc, slope in zip(discs, slopes, strict=True) if slope > 0.0)

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
    turned = turned_rows(support.coupling)
    rate = chamfer_force_rate(peg, support, mu)
    pushed = min(peg.chamfer_width, force_limit / rate) if math.isfinite(rate) else 0.0
    return AllowedRegion(
        capture=Disc("capture", _LATERAL, peg.radial_clearance + pushed),
        force=_force_disc(peg, support, mu, force_limit),
        entry=Disc("entry", turned, largest_entry_tilt(peg)),
        no_wedge=_no_wedge_disc(peg, support, mu),
    )


def _force_disc(peg: PegInHole, support: Support, mu: float, force_limit: float) -> Disc:
    reach = support.centre_distance - mu * peg.peg_radius
    stiffness = support.angular_stiffness + support.lateral_stiffness * support.centre_distance * reach
    if stiffness <= 0.0:
        raise ValueError(
            f"allowed region: friction {mu} at the peg's side folds this support; its compliance centre lies "
            f"{support.centre_distance} m behind the tip: move it beyond mu r or make Ktheta larger"
        )
    gap, depth = 2.0 * peg.radial_clearance, peg.depth
    radius = math.sqrt(2.0 * gap * force_limit / (mu * stiffness))
    if radius * depth < 2.0 * gap:
        radius = 0.5 * force_limit * depth / (mu * stiffness) + gap / depth
    return Disc("force", turned_rows(support.lateral_stiffness * reach / stiffness), radius)


def _no_wedge_disc(peg: PegInHole, support: Support, mu: float) -> Disc:
    drag = mu * peg.peg_radius
    depth, lg, room = 2.0 * drag, support.centre_distance, peg.radial_clearance
    if peg.depth < depth:
        depth = peg.depth
    lever = support.lateral_stiffness * (lg - depth - drag)
    below = lever * (lg - depth) + support.angular_stiffness
    turn, push = (lever * lg + support.angular_stiffness) / below, lever / below
    rows = (push, 0.0, 0.0, -turn), (0.0, push, turn, 0.0)
    return Disc("no wedge", rows, max(2.0 * room / depth + push * room, 0.0))


def turned_rows(coupling: float) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Rows that take an error (ex, ey, rx, ry) to tilt + `coupling` e, Whitney's sign; coupling [rad/m]."""
    return (coupling, 0.0, 0.0, -1.0), (0.0, coupling, 1.0, 0.0)


def inside(discs: tuple[Disc, ...], errors: Array) -> NDArray[np.bool_]:
    """Which of `errors` (n, 4) meet every condition, (n,)."""
    within = np.ones(errors.shape[0], dtype=bool)
    for disc in discs:
        within &= np.linalg.norm(errors @ np.array(disc.rows).T, axis=1) <= disc.radius
    return within
