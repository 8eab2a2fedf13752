"""The example pump settled: with touches every mate that is budgeted reaches 99.5 % at the sure end of its
chance, without them the build falls apart; the ring is named as not shown.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from handfast.workflow.read_project import check, load
from handfast.workflow.settle_chart import Settled, settled, short_of

PUMP = Path(__file__).parents[2] / "projects" / "dosing-pump"
TARGET = 0.995
pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> Settled:
    folder = tmp_path_factory.mktemp("settled") / "pump"
    shutil.copytree(PUMP, folder, ignore=shutil.ignore_patterns("records"))
    return settled(check(load(folder)), target=TARGET, seed=7)


def test_the_low_end_of_every_band_reaches_the_target(found: Settled) -> None:
    ledger = found.ledger.body
    assert len(ledger.rows) == 11
    assert [row.mate for row in short_of(ledger, TARGET)] == []
    assert min(row.probability.low for row in ledger.rows) >= TARGET


def test_at_most_two_mates_are_not_shown_and_they_are_named(found: Settled) -> None:
    ledger = found.ledger.body
    assert [mate for mate, _ in ledger.not_budgeted] == ["ring-in-groove"]
    assert not any(row.probability.model_dependent for row in ledger.rows)


def test_taking_the_touches_away_drops_it(found: Settled) -> None:
    ledger = found.ledger.body
    assert sum(e.kind == "locate" for e in found.chart.body.elements) >= 6
    assert ledger.build_yield.high > 0.98
    assert ledger.build_yield_untouched.high < 0.7
    assert min(row.probability_untouched.low for row in ledger.rows) < 0.9


def test_the_idler_is_turned_into_mesh(found: Settled) -> None:
    by_mate = {e.mate: e.strategy for e in found.chart.body.elements if e.strategy is not None}
    assert {mate: how.name for mate, how in by_mate.items()} == {
        "idler-gear-in-mesh": "rotate while lowering"
    }
    (row,) = (r for r in found.ledger.body.rows if r.mate == "idler-gear-in-mesh")
    assert row.strategy == "rotate while lowering"
