"""The fit ledger: the error budget of every mate."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.model.strategy import Strategy

Matrix = tuple[tuple[float, ...], ...]


@dataclass(frozen=True, slots=True)
class Band:
    """A probability, low to high where the answer depends on the contact model."""

    low: float
    high: float
    model_dependent: bool = False


@dataclass(frozen=True, slots=True)
class Contributor:
    """A source's part in the lateral variance along the worse axis. share: 0..1; sigma [m] along that
    axis; appearances: how many places of the chain it enters (it is one error, counted once), places:
    which; gained_if_halved: how much the low end of the mate's probability gains with the source half as
    large: worked out anew from the chart where `exact`; else an estimate that trusts the touches anew for
    this mate but leaves the earlier ones as they were, and so is exact where no earlier mate used the same
    touch."""

    source: str
    share: float
    sigma: float
    changes: str
    appearances: int
    gained_if_halved: float = 0.0
    assumed: bool = False
    places: tuple[str, ...] = ()
    exact: bool = False


@dataclass(frozen=True, slots=True)
class Limit:
    """One condition on the errors of a pair. name: what would go wrong beyond it; value: largest error, of
    `unit` "m" or "rad", at the middle size; end: "low" for the sure end of the band, "high" for the other,
    "both"."""

    name: str
    value: float
    unit: str
    end: str


@dataclass(frozen=True, slots=True)
class PairRow:
    """One of the things that must hold at once: a feature pair, a hole a screw passes, the bit in its
    socket. allowed [m], allowed_angle [rad]; probability: that this alone holds, at the sure end; spread
    of its deviation; limits: its region."""

    name: str
    fit: str
    clearance_min: float
    clearance_max: float
    allowed: float
    allowed_angle: float
    probability: float
    sigma_major: float
    sigma_minor: float
    sigma_angle: float
    limits: tuple[Limit, ...] = ()


@dataclass(frozen=True, slots=True)
class WayIn:
    """Another way to go in than the chart's. name: of the strategy, or "straight"; probability: with it, the
    chart otherwise as it is; extra_s: how much longer than straight it takes at most [s]; text: what the
    hand does; strategy: with its parameters, None for straight."""

    name: str
    probability: Band
    extra_s: float
    text: str
    strategy: Strategy | None = None


@dataclass(frozen=True, slots=True)
class Spread:
    """covariance (6, 6) of the moving feature in the fixed feature's frame [m, rad], mean (6,), and what
    is read off it: sigma [m] along the major and minor lateral axis, sigma_angle [rad] of tilt."""

    mean: tuple[float, ...]
    covariance: Matrix
    sigma_major: float
    sigma_minor: float
    sigma_angle: float


@dataclass(frozen=True, slots=True)
class TouchUpdate:
    """How one touch corrects the estimate: `correction = gain * (measured - expected)`.

    element: id of the locate element; measured, expected: travel from the start of the guarded move to
    contact [m]; gain (6,): twist of the moving feature in the fixed feature's frame [m/m, rad/m] that the
    touch has shown, to be taken back before going in; sigma_reading [m]: standard deviation of measured -
    expected before the touch, for consistency checks; spread [m2]: covariance of this reading with each that
    the mate uses, in the order of the mate's updates.
    """

    element: str
    mate: str
    gain: tuple[float, ...]
    sigma_reading: float
    spread: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Outcome:
    """One way in which something may end, and how likely that is, at the sure end. Of a screw: ok, not
    started, crossed, stripped, bottomed; of a pressed part: ok, not started, too much force; of closing jaws:
    slide, catch, miss. All of one thing together are one."""

    name: str
    probability: float


@dataclass(frozen=True, slots=True)
class Pressing:
    """force, most [N]: that pressing takes at middle and tightest size, at the sure end; limit [N]: that the
    hand gives."""

    force: float
    most: float
    limit: float


@dataclass(frozen=True, slots=True)
class Closed:
    """Jaws that close for a mate. element: id; item: the part or tool; outcomes: slide, catch, miss. before,
    after (3, 3) [m2]: how the mate's moving feature, or a tool's origin, lies off in the hand before they
    close and after, axes of the grip frame."""

    element: str
    item: str
    outcomes: tuple[Outcome, ...]
    before: Matrix = ()
    after: Matrix = ()


@dataclass(frozen=True, slots=True)
class MateRow:
    """One mate. before, after: touches. within: the error within one cell (all but per-installation sources);
    between_cells: of the per-installation sources alone. allowed [m] lateral, allowed_angle [rad]; margin
    ratio: allowed over three sigma. probability: that it goes in, after the touches, over all cells;
    probability_within: in a cell whose installation errors have been corrected on first articles;
    probability_untouched: without the touches. verdict: one sentence.

    in_order: that it goes in in builds in which every mate before it went in, which is what a trial
    observes; counted over builds drawn jointly, errors shared; in_order_untouched: the same without the
    touches. assemblable: share of lots in which the drawn parts can go together at all (1 for a single
    pair with clearance); it is part of every probability. pairs: all that must hold at once, the row's own
    figures being those of the least likely; probability_in_jig: straight in and without touches, what the
    drawn parts err still counting and all else exact; prior (6, 6): covariance of the first pair's deviation
    before the touches that the mate uses, to which the gains of its updates belong; strategy: how the chart
    has it go in; strategies: other ways in that would bring more; outcomes: of a screw or a pressed part;
    pressing: of the latter; jaws: of each grasp for this mate, the sliding counted in every probability."""

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
    in_order: Band = Band(0.0, 1.0, True)
    in_order_untouched: Band = Band(0.0, 1.0, True)
    assemblable: float = 1.0
    pairs: tuple[PairRow, ...] = ()
    probability_in_jig: Band = Band(0.0, 1.0, True)
    prior: Matrix = ()
    strategy: str = "straight"
    strategies: tuple[WayIn, ...] = ()
    outcomes: tuple[Outcome, ...] = ()
    pressing: Pressing | None = None
    jaws: tuple[Closed, ...] = ()


@dataclass(frozen=True, slots=True)
class Unknown:
    """An assumed error source that matters. mate: where it matters most; gained_if_halved: there, of the
    low end; share: its largest share of a mate's variance."""

    source: str
    mate: str
    gained_if_halved: float
    share: float


@dataclass(frozen=True, slots=True)
class Ledger:
    """chart_sha256: the chart it belongs to; rows in the order of the mates; build_yield: of the whole
    build, over all cells, from builds drawn jointly; not_budgeted: mates that count as not shown, with the
    reason; unknowns: the assumed sources that matter most, at most three; taken_as_exact: edges that the
    chart uses and nobody wrote an error for."""

    chart_sha256: str
    rows: tuple[MateRow, ...]
    build_yield: Band
    build_yield_untouched: Band
    updates: tuple[TouchUpdate, ...] = ()
    not_budgeted: tuple[tuple[str, str], ...] = ()
    unknowns: tuple[Unknown, ...] = ()
    taken_as_exact: tuple[str, ...] = ()
