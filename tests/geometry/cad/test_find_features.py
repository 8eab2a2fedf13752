"""Features of drawn solids: a share of the generated corpus, the pump, and faces that are none."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from OCP.BRepFilletAPI import BRepFilletAPI_MakeFillet
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS
from tests.geometry.cad.step_writer import at, write_step
from tests.verification.cad import draw
from tests.verification.cad.parts import corpus
from tests.verification.cad.score import Score, read_part, score_part

from handfast.geometry.cad.find_features import Found, find_features
from handfast.geometry.cad.grips import grips_of
from handfast.geometry.cad.read_step import read_step

PUMP = Path(__file__).parents[3] / "projects" / "dosing-pump" / "assembly.step"


@pytest.fixture(scope="module")
def pump() -> dict[str, Found]:
    return {d.name: find_features(d.graph) for d in read_step(PUMP).drawings}


def test_a_share_of_the_corpus_is_found_whole(tmp_path: Path) -> None:
    score = Score()
    parts = corpus(11, 0.1)
    for part in parts:
        score_part(part, read_part(part, tmp_path), score)
    assert {p.spline for p in parts} == {True, False}
    assert score.misses == []
    assert score.extras == []
    assert score.true["hole"] > 5


def bored_with_recesses(path: Path, wide: float, across: float) -> Found:
    """A block with a bore of 20 and, to both sides of it, a recess: together they are `across` long."""
    block = draw.cut(draw.box((-30, -30, 0), (30, 30, 20)), draw.rod((0, 0, -1), (0, 0, 1), 20, 22))
    block = draw.cut(block, draw.box((-across / 2, -wide / 2, 5), (across / 2, wide / 2, 21)))
    (drawing,) = read_step(write_step(path, "hub", [("hub", block, at(0, 0, 0))])).drawings
    return find_features(drawing.graph)


def test_two_keyways_in_a_bore_are_slots_and_a_chamber_across_it_is_none(tmp_path: Path) -> None:
    """A key 6 x 6 goes 2.8 mm into its hub (DIN 6885-1, from memory); a port chamber goes as deep as it
    likes."""
    keyed = bored_with_recesses(tmp_path / "keyed.step", 6, 2 * (10 + 2.8))
    assert [d.form for d in keyed.features if d.feature.kind == "slot"] == ["open at one end"] * 2
    chamber = bored_with_recesses(tmp_path / "chamber.step", 12, 2 * 18)
    assert [d for d in chamber.features if d.feature.kind == "slot"] == []
    assert sum("deep recess" in why for why in chamber.reasons.values()) == 8


def test_the_body_of_the_pump(pump: dict[str, Found]) -> None:
    found = {d.feature.name: d for d in pump["body"].features}
    assert not [name for name, d in found.items() if d.feature.kind == "slot"]  # its port chambers are none
    lobes = [d for d in found.values() if d.feature.diameter == pytest.approx(0.020)]
    assert sorted(d.feature.frame.position[0] for d in lobes) == pytest.approx([-0.009, 0.009])
    assert all(d.form == "blind" and d.chamfers[0] == pytest.approx((0.3e-3, np.pi / 4)) for d in lobes)
    tapped = [d for d in found.values() if d.thread == "M4"]
    assert len(tapped) == 4
    groove = found["groove_47"]
    assert groove.feature.length == pytest.approx(1.5e-3)
    assert "2.7 mm wide" in groove.form
    assert found["top"].feature.size == pytest.approx((0.090, 0.062))


def test_the_gears_of_the_pump_with_the_middle_of_a_tooth_on_x(pump: dict[str, Found]) -> None:
    (teeth,) = (d.feature for d in pump["drive_gear"].features if d.feature.kind == "gear")
    assert (teeth.teeth, teeth.module) == (18, 1e-3)
    assert teeth.frame.matrix[:3, 0] == pytest.approx([1, 0, 0], abs=1e-6)
    (turned,) = (d.feature for d in pump["idler_gear"].features if d.feature.kind == "gear")
    angle = np.degrees(np.arctan2(*turned.frame.matrix[:2, 0][::-1]))
    assert abs(angle) == pytest.approx(10, abs=1e-3)  # half of a tooth's 20 degrees


def test_small_things_of_the_pump(pump: dict[str, Found]) -> None:
    (ring,) = (d.feature for d in pump["ring"].features if d.feature.kind == "ring")
    assert (ring.diameter, ring.length) == pytest.approx((0.045, 0.002))
    pin = next(d for d in pump["pin"].features if d.feature.kind == "shaft")
    assert len(pin.ends) == 2
    assert pin.chamfers[0] == pytest.approx((0.2144e-3, np.deg2rad(75)), abs=1e-6)
    (socket,) = (d for d in pump["screw"].features if d.form == "hexagon socket")
    assert socket.feature.diameter == pytest.approx(3e-3)
    (slot,) = (d for d in pump["cover"].features if d.feature.kind == "slot")
    assert slot.feature.size == pytest.approx((5.6e-3, 5e-3))
    assert slot.chamfers[0] == pytest.approx((0.5e-3, np.pi / 4))


def test_every_face_is_in_a_feature_or_has_its_reason(pump: dict[str, Found]) -> None:
    for drawing in read_step(PUMP).drawings:
        found = pump[drawing.name]
        told = {f for d in found.features for f in (*d.faces, *d.walls)}
        assert told | set(found.reasons) == set(range(len(drawing.graph.faces))), drawing.name


def test_a_fillet_is_no_shaft_and_says_so(tmp_path: Path) -> None:
    block = draw.box((0, 0, 0), (30, 20, 10))
    rounding = BRepFilletAPI_MakeFillet(block)
    walk = TopExp_Explorer(block, TopAbs_ShapeEnum.TopAbs_EDGE)
    rounding.Add(2.0, TopoDS.Edge(walk.Current()))
    path = write_step(tmp_path / "block.step", "block", [("block", rounding.Shape(), at(0, 0, 0))])
    found = find_features(read_step(path).drawings[0].graph)
    assert {d.feature.kind for d in found.features} == {"face"}
    (reason,) = found.reasons.values()
    assert (
        reason
        == "a cylinder, but only 90 deg around: a rounded edge or a part of a round flank that holds nothing"
    )


def test_grips_of_a_block_are_its_three_pairs_of_faces(tmp_path: Path) -> None:
    block = draw.box((0, 0, 0), (120, 20, 10))
    path = write_step(tmp_path / "block.step", "block", [("block", block, at(0, 0, 0))])
    grips = grips_of(find_features(read_step(path).drawings[0].graph).features)
    assert [g.width for g in grips] == pytest.approx([0.010, 0.020])  # 120 mm is more than jaws open
    assert grips[0].common == pytest.approx((0.120, 0.020)) or grips[0].common == pytest.approx(
        (0.020, 0.120)
    )
