"""A proof, a ledger and trials of the hand-written chart, with made-up figures, to be drawn."""

from __future__ import annotations

from handfast.model.ledger import Band, Contributor, Ledger, MateRow, Spread
from handfast.model.proof import Contact, Proof, Violation
from handfast.model.reliability import MateAgreement, Reliability
from handfast.model.trial import MateCount, TrialReport

CHART_SHA256 = "3fa94c1d2b7e" + 52 * "0"
NONE = ((0.0,) * 6,) * 6


def spread(sigma: float) -> Spread:
    """A spread of that lateral sigma [m]."""
    return Spread((0.0,) * 6, NONE, sigma, 0.6 * sigma, 1e-4)


def example_ledger(chart_sha256: str = CHART_SHA256) -> Ledger:
    """One row, one mate without a budget."""
    contributors = (
        Contributor("nest put on the table", 0.62, 350e-6, "shift", 1),
        Contributor("right arm against table", 0.09, 50e-6, "installation", 2),
        Contributor("<bore & drilled>", 0.03, 10e-6, "lot", 1, assumed=True),
    )
    row = MateRow(
        "pin-in-bore", "pin-in-bore/16-assemble-right", "8 H7/g6", 5e-6, 29e-6, spread(360e-6), spread(62e-6),
        spread(55e-6), spread(50e-6), 512e-6, 0.012, 2.75, Band(0.991, 0.998, True), Band(0.996, 0.999),
        Band(0.81, 0.86), contributors, ("pin-in-bore/12-locate-right",), "Goes in with the touch.",
    )  # fmt: skip
    missing = (("cover-on-block", "no row for this kind"),)
    return Ledger(chart_sha256, (row,), Band(0.0, 0.998), Band(0.0, 0.86), (), missing)


def example_trial(touched: bool, chart_sha256: str = CHART_SHA256) -> TrialReport:
    """50 builds: all of them good with touches, 42 without."""
    good = 50 if touched else 42
    causes = () if touched else (("missed the chamfer", 8),)
    count = MateCount("pin-in-bore", 50, good, 0, (0.929, 1.0) if touched else (0.71, 0.92), causes)
    return TrialReport(chart_sha256, touched, (), (count,), good)


def example_reliability(touched: bool) -> Reliability:
    """Agreement of the above."""
    row = example_ledger().rows[0]
    predicted = row.probability if touched else row.probability_untouched
    count = example_trial(touched).counts[0]
    mate = MateAgreement("pin-in-bore", predicted, count.interval, count.tried, count.succeeded, True)
    return Reliability("", "", touched, 0.95, (mate,), True)


def example_proof(holds: bool = True) -> Proof:
    """A proof that holds, or one with a collision."""
    wrong = Violation("collision", 11, 6.2, 0.004, "left.forearm", "stand", "left forearm runs into stand")
    contacts = (Contact("pin", "block", "mate pin-in-bore", 1.2),)
    return Proof(
        CHART_SHA256, () if holds else (wrong,), contacts, 0.0062, ("left.forearm", "stand"), 11, 20341
    )
