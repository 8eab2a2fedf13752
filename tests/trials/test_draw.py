from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from handfast.model.error_source import ErrorSource
from handfast.model.feature import Feature, Lot
from handfast.spatial import se3
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import Array
from handfast.trials.draw import Draws, Nesting
from handfast.uncertainty.fit_of_pair import clearance_spread

SIX = (1e-3, 2e-3, 0.0, 1e-2, 0.0, 3e-2)
COUNT = 4000


def twists(source: ErrorSource, **more: object) -> Array:
    return np.array([Draws((source,), 7, b, **more).twist(source) for b in range(COUNT)])  # type: ignore[arg-type]


@pytest.mark.parametrize("distribution", ["normal", "uniform"])
def test_standard_deviation_is_sigma(distribution: str) -> None:
    source = ErrorSource("a", "arm.right.base", SIX, "installation", distribution)  # type: ignore[arg-type]
    drawn = twists(source)
    # Standard error of a standard deviation of n normal draws: sigma / sqrt(2 n) (GUM E.4.3); five of them.
    assert drawn.std(axis=0) == pytest.approx(np.array(SIX), rel=5 / math.sqrt(2 * COUNT))
    assert np.abs(drawn.mean(axis=0)) == pytest.approx(np.zeros(6), abs=5 * max(SIX) / math.sqrt(COUNT))
    widest = np.abs(drawn[:, 0]).max() / SIX[0]
    assert widest <= math.sqrt(3) if distribution == "uniform" else widest > 3


def test_truncated_draws_stay_inside_and_lose_what_is_cut_off() -> None:
    source = ErrorSource("a", "feature.block.bore", SIX, "lot", "truncated", truncation=1.0)
    drawn = twists(source)
    assert np.abs(drawn[:, 0]).max() <= SIX[0]
    # Normal cut at +-1 sigma: variance 1 - 2 phi(1) / (2 Phi(1) - 1) = 0.2911 (standard tables).
    assert drawn[:, 0].std() / SIX[0] == pytest.approx(math.sqrt(0.2911), rel=0.03)


def test_scaled_errors() -> None:
    source = ErrorSource("a", "arm.right.base", SIX, "installation")
    assert twists(source, scale=3.0) == pytest.approx(3 * twists(source))


def test_what_changes_how_often() -> None:
    def one(changes: str, build: int, occasion: str = "", **nesting: int) -> float:
        source = ErrorSource("a", "arm.right.tip", SIX, changes)  # type: ignore[arg-type]
        return float(Draws((source,), 7, build, Nesting(**nesting)).twist(source, occasion)[0])

    assert one("installation", 0) != one("installation", 1)
    assert one("installation", 0, installation=10) == one("installation", 9, installation=10)
    assert one("installation", 0, installation=10) != one("installation", 10, installation=10)
    assert one("shift", 3, shift=4) == one("shift", 0, shift=4)
    assert one("part", 0, installation=10, shift=10, lot=10) != one(
        "part", 1, installation=10, shift=10, lot=10
    )
    assert one("part", 0, "first") == one("part", 0, "second")
    assert one("cycle", 0, "first") != one("cycle", 0, "second")
    assert one("cycle", 0, "first") == one("cycle", 0, "first")


def test_an_arms_field_is_smooth() -> None:
    source = ErrorSource(
        "field", "arm.right.tip", (1.0, 0, 0, 0, 0, 0), "installation", correlation_length=0.2
    )
    points = np.array([[0.0, 0, 0], [0.02, 0, 0], [0.2, 0, 0], [2.0, 0, 0]])
    values = np.array([[Draws((source,), 7, b).twist(source, "", p)[0] for p in points] for b in range(1500)])
    correlation = np.corrcoef(values.T)[0]
    # exp(-d^2 / (2 L^2)); the standard error of a correlation is at most 1 / sqrt(n).
    expected = np.exp(-0.5 * (points[:, 0] / 0.2) ** 2)
    assert correlation == pytest.approx(expected, abs=4 / math.sqrt(1500))
    assert values.std(axis=0) == pytest.approx(np.ones(4), rel=0.1)


def test_sizes_lie_within_iso_286() -> None:
    # 8 H7: 0 to +15 um (ISO 286-2).
    bore = Feature("bore", "hole", Pose(), diameter=8e-3, fit="H7")
    sizes = np.array([Draws((), 7, b).diameter("block", bore) for b in range(2000)]) - 8e-3
    assert sizes.min() >= 0.0
    assert sizes.max() <= 15e-6
    assert sizes.mean() == pytest.approx(7.5e-6, abs=0.3e-6)
    assert sizes.std() == pytest.approx(2.5e-6, rel=0.1)


def test_sizes_of_a_measured_lot() -> None:
    """8 H7 bored small: mean 3 um, sigma 2 um, cut at 0. The mean of a normal cut at -1.5 sigma on one side
    lies sigma phi(1.5) / Phi(1.5) = 0.1388 sigma higher (Johnson, Kotz, Balakrishnan 1994, 13.10; tables)."""
    bore = Feature("bore", "hole", Pose(), diameter=8e-3, fit="H7", lot=Lot(8.003e-3, 2e-6))
    sizes = np.array([Draws((), 7, b).diameter("block", bore) for b in range(4000)]) - 8e-3
    assert sizes.min() >= 0.0
    assert sizes.mean() == pytest.approx(3e-6 + 0.1388 * 2e-6, abs=4 * 2e-6 / math.sqrt(4000))


def test_what_the_ledger_takes_of_a_lot_is_what_is_drawn() -> None:
    bore = Feature("bore", "hole", Pose(), diameter=8e-3, fit="H7", lot=Lot(8.009e-3, 1.5e-6))
    pin = Feature("tip", "shaft", Pose(), diameter=8e-3, fit="g6", length=0.02)
    draws = [Draws((), 7, b) for b in range(4000)]
    play = np.array([d.diameter("block", bore) - d.diameter("pin", pin) for d in draws])
    middle, sigma = clearance_spread(bore, pin)
    assert play.mean() == pytest.approx(middle, abs=5 * sigma / math.sqrt(4000))
    # Cut at three sigma, a normal keeps 0.9866 of its standard deviation (tables).
    assert play.std() == pytest.approx(sigma, rel=0.0134 + 5 / math.sqrt(8000))
    wide, _ = clearance_spread(replace(bore, lot=None), pin)
    assert middle - wide == pytest.approx(1.5e-6)  # 9 um instead of the middle of 0 and 15


def test_deviations_of_one_edge_compose_in_their_order() -> None:
    a = ErrorSource("a", "holder.nest", SIX, "shift")
    b = ErrorSource("b", "holder.nest", SIX, "part")
    draws = Draws((a, b), 7, 0)
    both = se3.exp(draws.twist(a)) @ se3.exp(draws.twist(b))
    assert draws.deviation("holder.nest") == pytest.approx(both)
    assert draws.deviation("holder.tray") == pytest.approx(np.eye(4))


def test_burrs_and_missing_chamfers_are_as_frequent_as_their_rates() -> None:
    """Binomial: 2000 parts at 0.1, four standard deviations (0.0067 each) about it."""
    bore = Feature("bore", "hole", Pose(), diameter=8e-3, fit="H7")
    feature = replace(bore, lot=Lot(burrs=0.1, missing_chamfers=0.1))
    for what in ("burr", "no chamfer"):
        found = [Draws((), 7, n).has(what, "block", feature) for n in range(2000)]
        assert abs(sum(found) / 2000 - 0.1) < 4 * 0.0067
        assert found != [Draws((), 8, n).has(what, "block", feature) for n in range(2000)]
    draws = [Draws((), 7, n) for n in range(200)]
    burrs, chamfers = ([d.has(w, "block", feature) for d in draws] for w in ("burr", "no chamfer"))
    assert burrs != chamfers
    assert not any(Draws((), 7, n).has("burr", "block", bore) for n in range(200))
