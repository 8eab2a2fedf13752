"""The fit ledger: the error budget of every mate."""

from __future__ import annotations

from dataclasses import dataclass

Matrix = tuple[tuple[float, ...], ...]


@dataclass(frozen=True, slots=True)
class Band:
    """A probability, low to high where the answer depends on the contact model."""

    low: float
    high: float
    model_dependent: bool = False


@dataclass(frozen=True, slots=True)
class Contributor:
    """A source's part in the lateral variance along the worse axis. share: 0..1; sigma [m] along that axis; appearances:
    how many places of the chain it enters (it is one error, counted once)."""

    source: str
    share: float
    sigma: float
    changes: str
    appearances: int
    gained_if_halved: float = 0.0
    assumed: bool = False


@dataclass(frozen=True, slots=True)
class Spread:
    """covariance (6, 6) of the moving feature in the fixed feature's frame [m, rad], mean (6,), and what is read off it:
    sigma [m] along the major and minor lateral axis, sigma_angle [rad] of tilt."""

    mean: tuple[float, ...]
    covariance: Matrix
    sigma_major: float
    sigma_minor: float
    sigma_angle: float


@dataclass(frozen=True, slots=True)
class TouchUpdate:
    """How one touch corrects the estimate: `correction = gain * (measured - expected)`.

    element: id of the locate element; measured, expected: travel from the start of the guarded move to contact [m];
    gain (6,): twist of the moving feature in the fixed feature's frame [m/m, rad/m] that the touch has shown, to be taken
    back before going in; sigma_reading [m]: standard deviation of measured - expected before the touch, for consistency checks.
    """

    element: str
    mate: str
    gain: tuple[float, ...]
    sigma_reading: float


@dataclass(frozen=True, slots=True)
class MateRow:
    """One mate. before, after: touches. within: the error within one cell (all but per-installation sources); between_cells:
    of the per-installation sources alone. allowed [m] lateral, allowed_angle [rad]; margin ratio: allowed over three sigma.
    probability: that it goes in, after the touches, over all cells; probability_within: in a cell whose installation
    errors have been corrected on first articles; probability_untouched: without the touches. verdict: one sentence."""

    mate: str
    element: str
    fit: str
    clearance_min: float
    clearance_max: float
    before: Spread
    after: Spread
    within: Spread
    between_cells: Spread
    allowed: float
    allowed_angle: float
    margin_ratio: float
    probability: Band
    probability_within: Band
    probability_untouched: Band
    contributors: tuple[Contributor, ...]
    touches: tuple[str, ...]
    verdict: str


@dataclass(frozen=True, slots=True)
class Ledger:
    """chart_sha256: the chart it belongs to; rows in the order of the mates; build_yield: of the whole build, over all cells;
    not_budgeted: mates that count as not shown, with the reason."""

    chart_sha256: str
    rows: tuple[MateRow, ...]
    build_yield: Band
    build_yield_untouched: Band
    updates: tuple[TouchUpdate, ...] = ()
    not_budgeted: tuple[tuple[str, str], ...] = ()
