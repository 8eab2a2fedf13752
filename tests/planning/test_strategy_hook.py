"""A strategy that is demanded of a mate stands in the element that takes its part home, with its time."""

from __future__ import annotations

from pathlib import Path

import pytest

from handfast.checking.checked_project import CheckedProject
from handfast.files.record_json import load as load_record
from handfast.files.record_json import make_record, save
from handfast.model.chart import Chart
from handfast.model.strategy import BackTurn, Spiral, Strategy
from handfast.model.touch_demand import TouchDemand
from handfast.planning import plan
from handfast.proof.verify import verify
from handfast.workflow.read_project import check, load

FOLDER = Path(__file__).parents[2] / "projects" / "first-fit"
ROUND = Spiral(radius=1e-3, pitch=0.5e-3, speed=5e-3, force=5.0, drop=0.5e-3, rest=1.0)
BACK = BackTurn(turn=6.5, rate=6.0, force=5.0, torque=0.1, drop=0.3e-3, slow_turn=12.0)
DEMANDED: dict[str, Strategy] = {"pin-in-bore": ROUND, "cover-screw": BACK}


@pytest.fixture(scope="module")
def first_fit() -> CheckedProject:
    return check(load(FOLDER))


@pytest.fixture(scope="module")
def chart(first_fit: CheckedProject) -> Chart:
    demands = tuple(TouchDemand(name, (), strategy=how) for name, how in DEMANDED.items())
    found = plan(first_fit, seed=1, demands=demands)
    assert isinstance(found, Chart)
    return found


def test_it_is_carried_by_the_element_that_goes_home_and_by_no_other(chart: Chart) -> None:
    carried = {e.mate: e for e in chart.elements if e.strategy is not None}
    assert {mate: e.strategy for mate, e in carried.items()} == DEMANDED
    assert sum(e.strategy is not None for e in chart.elements) == len(DEMANDED)
    assert carried["pin-in-bore"].kind == "assemble"
    driven = carried["cover-screw"]
    assert driven.kind == "use"
    assert driven.leaves is not None
    assert driven.leaves.parent == "part.block"


def test_its_time_is_in_the_chart(chart: Chart) -> None:
    """pi R^2/p over the speed: pi (1 mm)^2 / 0.5 mm / (5 mm/s) = 1.257 s, by hand."""
    spiral = next(e for e in chart.elements if e.strategy == ROUND)
    assert spiral.before_s == pytest.approx(1.2566, abs=1e-4)
    after = min(e.start_s for e in chart.elements if e.start_s > spiral.start_s)
    moving = sum(m.duration for m in spiral.motions)
    assert after - spiral.start_s == pytest.approx(1.2566 + moving, abs=1e-3)


def test_the_verifier_takes_the_chart(first_fit: CheckedProject, chart: Chart) -> None:
    assert verify(first_fit.project, chart, "").violations == ()


def test_a_record_keeps_it(chart: Chart, tmp_path: Path) -> None:
    path = tmp_path / "chart.json"
    save(make_record(chart, (), 1), path)
    assert load_record(path, Chart).body == chart
