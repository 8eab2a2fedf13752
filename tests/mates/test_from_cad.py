"""Mates recognised in small drawn assemblies; the whole corpus is looked at by `make verify`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from tests.geometry.cad.step_writer import at, write_step
from tests.verification.cad import draw
from tests.verification.cad.assemblies import Z, bored, corpus, pin, screw, through
from tests.verification.cad.score_mates import MateScore, recognised, score_assembly

from handfast.geometry.cad.read_step import read_step
from handfast.mates.from_cad.fastening import crosswise, guessed_torque
from handfast.mates.from_cad.recognise import part_names, recognise


@pytest.mark.parametrize("name", ["bearing-block", "slider", "post", "sealed"])
def test_every_pair_of_a_drawn_assembly(tmp_path: Path, name: str) -> None:
    drawn = next(d for d in corpus(3) if d.name == name)
    score = MateScore()
    score_assembly(drawn, recognised(drawn, tmp_path), score)
    assert score.words == []
    assert score.true == score.hit == score.found > 1


def test_two_equal_rings_under_one_lid_bear_on_it_in_two_places(tmp_path: Path) -> None:
    body, lid = draw.box((-60, -30, 0), (60, 30, 15)), draw.box((-60, -30, 0), (60, 30, 5))
    parts = []
    for k, x in enumerate((-30.0, 30.0), 1):
        groove = draw.cut(draw.rod((x, 0, 13.5), Z, 32.7, 3), draw.rod((x, 0, 0), Z, 27.3, 30))
        body = bored(draw.cut(body, groove), (x, -24.0, 15.0, 4.0, 8.0))
        lid = through(lid, (x, -24.0, 5.0, 4.0, 5.0))
        parts.append((f"ring_{k}", draw.torus((0, 0, 0), Z, 30.0, 2.0), at(x, 0, 14.5)))
        parts.append((f"pin_{k}", pin(4.0, 12.0), at(x, -24.0, 13.0)))
    parts += [("body", body, at(0, 0, 0)), ("lid", lid, at(0, 0, 15))]
    guessed = recognise(read_step(write_step(tmp_path / "a.step", "a", parts)), "body")
    mate = next(m.mate for m in guessed.mates if m.mate.part == "lid")
    lands = {p.fixed_part: p for p in mate.pairs if p.moving.startswith("land")}
    assert set(lands) == {"ring_1", "ring_2"}
    features = {f.feature.name: f.feature for p in guessed.parts if p.name == "lid" for f in p.features}
    where = sorted(features[p.moving].frame.matrix[0, 3] for p in lands.values())
    assert where == pytest.approx([-0.03, 0.03], abs=1e-6)
    assert all(p.depth == pytest.approx(-0.5e-3, abs=1e-6) for p in lands.values())


def test_a_screw_overlaps_its_drilled_hole_as_thread_and_a_fat_pin_as_press(tmp_path: Path) -> None:
    block = bored(draw.box((-20, -20, 0), (20, 20, 20)), (-10, 0, 20, 3.3, 12), (10, 0, 20, 4.98, 10))
    parts = [("block", block, at(0, 0, 0)), ("bolt", screw("M4", 10.0), at(-10, 0, 24))]
    parts.append(("dowel", pin(5.0, 16.0), at(10, 0, 18)))
    parts.append(("washer", through(draw.rod((0, 0, 0), Z, 9, 4), (0, 0, 4, 4.5, 4)), at(-10, 0, 20)))
    guessed = recognise(read_step(write_step(tmp_path / "a.step", "a", parts)))
    mates = {m.mate.part: m.mate for m in guessed.mates}
    assert mates["bolt"].kind == "screw"
    assert mates["bolt"].clamps == ("washer",)
    assert mates["dowel"].kind == "press"
    tapped = next(
        f.feature for p in guessed.parts for f in p.features if f.feature.name == mates["bolt"].pairs[0].fixed
    )
    assert (tapped.kind, tapped.thread) == ("thread", "M4")


def test_what_only_lies_there_gets_no_mate_and_a_note(tmp_path: Path) -> None:
    parts = [("plate", draw.box((0, 0, 0), (60, 40, 10)), at(0, 0, 0))]
    parts.append(("brick", draw.box((0, 0, 0), (20, 10, 10)), at(10, 10, 10)))
    guessed = recognise(read_step(write_step(tmp_path / "a.step", "a", parts)))
    assert guessed.mates == ()
    assert any("brick has no mate" in note and "only lies on a face" in note for note in guessed.notes)


def test_crosswise_is_each_as_far_as_can_be() -> None:
    square = {
        n: np.array(p, float)
        for n, p in (("a", (0, 0, 0)), ("b", (1, 0, 0)), ("c", (1, 1, 0)), ("d", (0, 1, 0)))
    }
    assert crosswise(square) in (("a", "c", "b", "d"), ("a", "c", "d", "b"))


def test_the_torque_keeps_below_the_proof_load() -> None:
    # M_A = F (0.16 P + 0.58 d2 mu + D_Km mu / 2) (VDI 2230), P 0.7, d2 3.545, D_Km (6.53 + 4.5) / 2 mm,
    # mu 0.1; A2-70 yields at 450 MPa (ISO 3506-1, from memory), on 8.78 mm2 (ISO 898-1).
    preload = guessed_torque("M4") / ((0.16 * 0.7 + 0.58 * 3.545 * 0.1 + 5.515 * 0.1 / 2) * 1e-3)
    assert 0.7 * 450 * 8.78 < preload < 450 * 8.78


def test_names_are_fit_for_a_project() -> None:
    assert part_names(["a.b", "a b", "screw", "screw", "3rd", ""]) == [
        "a_b_1", "a_b_2", "screw_1", "screw_2", "part_3rd", "part",
    ]  # fmt: skip
