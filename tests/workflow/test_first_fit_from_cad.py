"""The small example, begun from its STEP assembly alone, beside the one written by hand."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.workflow.differences import differences

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.model.chart import Chart
from handfast.planning.plan import plan
from handfast.proof.verify import verify
from handfast.workflow.new_from_cad import new_from_cad

pytestmark = pytest.mark.slow
FIRST_FIT = Path(__file__).parents[2] / "projects" / "first-fit"


@pytest.fixture(scope="module")
def begun(tmp_path_factory: pytest.TempPathFactory) -> CheckedProject:
    folder = tmp_path_factory.mktemp("cad")
    new_from_cad(folder / "rig", FIRST_FIT / "assembly.step")
    checked = check_folder(folder / "rig")
    assert isinstance(checked, CheckedProject), checked
    return checked


def test_every_mate_is_found(begun: CheckedProject) -> None:
    by_hand = check_folder(FIRST_FIT)
    assert isinstance(by_hand, CheckedProject)
    assert differences(begun.project.product, by_hand.project.product) == {
        # Never drawn: which class of fit, all being drawn nominal.
        "fit of cover.pin_hole: H7, by hand E9",
    }


def test_the_cover_may_be_held_at_its_end_away_from_the_screw(begun: CheckedProject) -> None:
    cover = next(p for p in begun.project.product.parts if p.name == "cover")
    ends = {f.name: f for f in cover.features if f.name.endswith("_end")}
    assert sorted(ends) == ["back_end", "front_end"]
    for face in ends.values():  # the screw goes through at x = 38 mm; the cover is 96 mm long
        assert face.size == pytest.approx((30e-3, 6e-3))
        assert face.frame.position[0] == pytest.approx(-33e-3)


def test_it_plans_in_its_stand_in_cell(begun: CheckedProject) -> None:
    """As the project written by hand does: the left hand holds the cover while the right one drives."""
    chart = plan(begun, seed=0)
    assert isinstance(chart, Chart), chart
    assert set(chart.mates) == {m.name for m in begun.project.product.mates}
    (use,) = {e.hand for e in chart.elements if e.kind == "use"}
    assert {e.hand for e in chart.elements if e.kind == "hold" and e.object == "cover"} == {"left"} != {use}
    assert verify(begun.project, chart, "").holds
