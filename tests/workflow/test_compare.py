"""Prediction beside what was tried."""

from __future__ import annotations

from dataclasses import replace

import pytest
from scipy.stats import beta  # type: ignore[import-untyped]  # it ships no types
from tests.page.example_records import example_ledger, example_trial

from handfast.files.record_json import make_record
from handfast.model.ledger import Band, Ledger
from handfast.model.record import Record
from handfast.model.reliability import Reliability
from handfast.model.trial import MateCount, TrialReport
from handfast.workflow.compare import MismatchError, reliability


def ledger(*bands: tuple[str, Band, Band]) -> Record[Ledger]:
    one = example_ledger()
    rows = tuple(
        replace(one.rows[0], mate=name, in_order=touched, in_order_untouched=bare)
        for name, touched, bare in bands
    )
    return make_record(replace(one, rows=rows), (), 0)


def trial(*counts: tuple[str, int, int], touched: bool = True) -> Record[TrialReport]:
    made = tuple(MateCount(name, tried, good, 0, (0.0, 1.0), ()) for name, tried, good in counts)
    return make_record(replace(example_trial(touched), counts=made), (), 0)


def of(found: Record[Reliability], mate: str) -> tuple[float, float]:
    return next(m.observed for m in found.body.mates if m.mate == mate)


SURE = Band(0.99, 1.0)


@pytest.mark.parametrize(("good", "low", "high"), [(50, 0.9289, 1.0), (45, 0.7819, 0.9667)])
def test_one_mate_is_held_at_95_per_cent(good: int, low: float, high: float) -> None:
    # Exact interval, 95 %, by the beta quantiles of scipy.stats: 50/50 92.89-100, 45/50 78.19-96.67.
    found = reliability(ledger(("a", SURE, SURE)), trial(("a", 50, good)))
    assert found.body.level == pytest.approx(0.95)
    assert of(found, "a") == pytest.approx((low, high), abs=5e-4)


def test_several_mates_are_held_together() -> None:
    # Bonferroni: three intervals at 1 - 0.05/3 hold together with at least 95 %.
    found = reliability(
        ledger(("a", SURE, SURE), ("b", SURE, SURE), ("c", SURE, SURE)),
        trial(("a", 50, 45), ("b", 50, 50), ("c", 50, 50)),
    )
    assert found.body.level == pytest.approx(1 - 0.05 / 3)
    tail = 0.05 / 3 / 2
    expected = float(beta.ppf(tail, 45, 6)), float(beta.ppf(1 - tail, 46, 5))
    assert of(found, "a") == pytest.approx(expected, abs=1e-9)


def test_the_prediction_without_touches_is_used_for_trials_without() -> None:
    book = ledger(("a", SURE, Band(0.80, 0.85)))
    assert not reliability(book, trial(("a", 50, 41), touched=True)).body.agrees
    assert reliability(book, trial(("a", 50, 41), touched=False)).body.agrees


def test_only_builds_that_came_as_far_are_compared() -> None:
    """45 of 50 that were tried; over all builds the mate would go in far less often."""
    book = ledger(("a", Band(0.88, 0.92), Band(0.0, 1.0)))
    rows = (replace(book.body.rows[0], probability=Band(0.3, 0.4), probability_within=Band(0.3, 0.4)),)
    book = make_record(replace(book.body, rows=rows), (), 0)
    assert reliability(book, trial(("a", 50, 45))).body.agrees


def test_a_prediction_above_or_below_what_was_seen_does_not_agree() -> None:
    assert not reliability(ledger(("a", SURE, SURE)), trial(("a", 50, 40))).body.agrees
    low = Band(0.2, 0.3)
    assert not reliability(ledger(("a", low, low)), trial(("a", 50, 40))).body.agrees


def test_what_was_never_tried_or_never_predicted_does_not_agree() -> None:
    never = reliability(ledger(("a", SURE, SURE)), trial(("a", 0, 0)))
    missing = reliability(ledger(("a", SURE, SURE)), trial())
    unknown = reliability(ledger(), trial(("a", 50, 50)))
    nothing = reliability(ledger(), trial())
    assert not any(r.body.agrees for r in (never, missing, unknown, nothing))


def test_records_of_two_charts_do_not_mix() -> None:
    other = make_record(replace(example_trial(True), chart_sha256="b" * 64), (), 0)
    with pytest.raises(
        MismatchError, match="expected a ledger and trials of one chart, found 3fa94c1d2b7e and bbbb"
    ):
        reliability(ledger(("a", SURE, SURE)), other)


def test_it_says_what_it_was_made_from() -> None:
    found = reliability(ledger(("a", SURE, SURE)), trial(("a", 50, 50)))
    assert [f.path for f in found.inputs] == ["ledger", "trial-report"]
    assert found.inputs[0].sha256 == found.body.ledger_sha256


def test_one_failure_of_a_mate_that_hardly_ever_fails_is_no_contradiction() -> None:
    """42 of 43 where 99.9 % is predicted: one in 24 such trials, far more often than 1 - 0.983."""
    rare = Band(0.999, 0.9999)
    found = reliability(ledger(("a", rare, rare), ("b", SURE, SURE), ("c", SURE, SURE)), trial(("a", 43, 42)))
    assert next(m for m in found.body.mates if m.mate == "a").agrees
    worse = reliability(ledger(("a", rare, rare), ("b", SURE, SURE), ("c", SURE, SURE)), trial(("a", 43, 41)))
    assert not next(m for m in worse.body.mates if m.mate == "a").agrees
