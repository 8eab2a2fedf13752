"""The small example, drawn anew as solids and read from its STEP assembly alone, beside the one written by
hand."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from tests.geometry.cad.step_writer import at, write_step
from tests.verification.cad import draw
from tests.workflow.test_new_from_cad import differences

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.model.chart import Chart
from handfast.planning.plan import plan
from handfast.proof.verify import verify
from handfast.workflow.new_from_cad import new_from_cad

pytestmark = pytest.mark.slow
FIRST_FIT = Path(__file__).parents[2] / "projects" / "first-fit"
UP, DOWN = (0, 0, 1), (0, 0, -1)


def bored(body: Any, x: float, mouth: float, diameter: float, deep: float, chamfer: float) -> Any:
    """A hole down from `mouth`, at y = 0, with a 45 degree chamfer of that radial width."""
    body = draw.cut(body, draw.rod((x, 0, mouth), DOWN, diameter, deep))
    return draw.cut(body, draw.cone((x, 0, mouth), DOWN, diameter + 2 * chamfer, diameter, chamfer))


def block() -> Any:
    body = bored(draw.box((-50, -25, 0), (50, 25, 30)), -28, 30, 8, 24, 0.5)
    return bored(body, 38, 30, 3.3, 12, 0.75)


def pin() -> Any:
    return draw.add(draw.rod((0, 0, -20), UP, 8, 39.2), draw.cone((0, 0, 19.2), UP, 8, 6.4, 0.8))


def cover() -> Any:
    body = draw.cut(draw.box((-48, -23, 0), (48, 23, 6)), draw.rod((-28, 0, -1), UP, 8, 8))
    body = draw.cut(body, draw.cone((-28, 0, 0), UP, 9, 8, 0.5))
    return draw.cut(body, draw.rod((38, 0, -1), UP, 4.5, 8))


def screw() -> Any:
    turns = np.arange(6) * np.pi / 3
    corners = np.column_stack([np.sqrt(3) * np.cos(turns), np.sqrt(3) * np.sin(turns), np.full(6, 2.0)])
    body = draw.add(draw.rod((0, 0, -12), UP, 3.9, 12), draw.rod((0, 0, 0), UP, 7, 4))
    return draw.cut(body, draw.prism(corners, (0, 0, 3)))


@pytest.fixture(scope="module")
def begun(tmp_path_factory: pytest.TempPathFactory) -> CheckedProject:
    folder = tmp_path_factory.mktemp("cad")
    parts = [
        ("block", block(), at(0, 0, 0)), ("pin", pin(), at(-28, 0, 30)),
        ("cover", cover(), at(0, 0, 30)), ("screw", screw(), at(38, 0, 36)),
    ]  # fmt: skip
    new_from_cad(folder / "rig", write_step(folder / "assembly.step", "first-fit", parts))
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
