"""The whole first-fit process, distances and all: it holds, and planted collisions are found."""

from __future__ import annotations

import struct
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from tests.proof.chart_by_hand import trapezoid, with_element
from tests.proof.faults import detour, found, of_kind, until
from tests.proof.first_fit_by_hand import at, by_hand
from tests.proof.test_slides import cube as cube_of

from handfast.model.proof import Proof
from handfast.model.shape import Mesh, Solid
from handfast.proof import verify
from handfast.spatial import se3
from handfast.spatial.pose import Pose


@cache
def whole() -> Proof:
    builder, chart = by_hand()
    return verify(builder.project, chart, "sha")


def test_it_holds() -> None:
    assert whole().violations == ()
    assert whole().holds
    assert whole().chart_sha256 == "sha"
    assert whole().configurations > 1000


def test_two_proofs_of_one_chart_are_equal() -> None:
    builder, chart = by_hand()
    part = until(chart, 6)
    assert verify(builder.project, part, "sha") == verify(builder.project, part, "sha")


def test_contacts_are_those_of_the_mates_grasps_places_and_touches() -> None:
    pairs = {(frozenset((c.a, c.b)), c.reason) for c in whole().contacts}
    expected = {
        ("block", "nest", "place"), ("pin", "tray", "place"), ("cover", "tray", "place"),
        ("screw", "presenter", "place"), ("driver", "stand", "place"), ("pin", "block", "mate"),
        ("cover", "block", "mate"), ("cover", "pin", "mate"), ("screw", "block", "mate"),
        ("screw", "cover", "mate"),
        ("screw", "driver", "bit"), ("pin", "block", "touch"),
    }  # fmt: skip
    for hand, item in (("left", "pin"), ("right", "pin"), ("left", "cover"), ("right", "driver")):
        expected |= {(f"{hand}.{word}_finger", item, "grasp") for word in ("upper", "lower")}
    assert pairs == {(frozenset((a, b)), reason) for a, b, reason in expected}


def test_contact_durations_follow_the_chart() -> None:
    _, chart = by_hand()
    took, gave = of_kind(chart, "grasp", "left", "pin"), of_kind(chart, "release", "left", "pin")
    held = gave.start_s - (took.start_s + took.duration_s)
    for contact in whole().contacts:
        if contact.a.startswith("left") and contact.b == "pin":
            assert contact.duration_s == pytest.approx(held, abs=0.01)  # and a moment while the jaws move
        if (contact.a, contact.b) == ("block", "nest"):
            assert contact.duration_s == pytest.approx(chart.makespan_s, abs=1e-3)


def test_the_smallest_clearance_is_the_leaning_finger_over_the_block() -> None:
    # Fingers 18 wide lean by 20 deg over the block's top at 45 mm; their tips' middle is at 49 mm.
    gap = 49e-3 - 45e-3 - 9e-3 * np.sin(np.deg2rad(20))
    assert whole().smallest_clearance == pytest.approx(gap, abs=2e-6)
    assert sorted(whole().closest) in (["block", "left.lower_finger"], ["block", "left.upper_finger"])


def test_a_collision_planted_in_a_saved_chart() -> None:
    builder, chart = by_hand()
    element = of_kind(chart, "position", "right", "pin")
    hand = builder.hands["right"]
    q = np.array(element.motions[-1].q[-1])
    beside = hand.reach(at(-15, 450, 62), q)  # the pin's tip 3 mm in the block, beside the bore
    there = trapezoid(q, beside, "right", hand.speed, hand.acceleration)
    back = trapezoid(beside, q, "right", hand.speed, hand.acceleration)
    spoilt = detour(chart, element.number, len(element.motions), there, back)
    proof = verify(builder.project, until(spoilt, element.number), "sha")
    assert any({v.a, v.b} == {"pin", "block"} for v in found(proof, "collision", element.number))


def test_nothing_in_the_chart_can_allow_a_pair() -> None:
    # The same planted collision, with every field of the element claiming that it is the insertion.
    builder, chart = by_hand()
    element = of_kind(chart, "assemble", "right", "pin")
    hand = builder.hands["right"]
    q = np.array(element.motions[0].q[0])
    beside = hand.reach(at(-15, 450, 62), q)
    there = trapezoid(q, beside, "right", hand.speed, hand.acceleration)
    back = trapezoid(beside, q, "right", hand.speed, hand.acceleration)
    spoilt = detour(chart, element.number, 0, there, back)
    spoilt = with_element(
        spoilt, element.number, target="block.bore", cause="pin and block may touch", mate="pin-in-bore"
    )
    proof = verify(builder.project, until(spoilt, element.number), "sha")
    assert any({v.a, v.b} == {"pin", "block"} for v in found(proof, "collision", element.number))


def test_an_insertion_beside_the_bore_collides() -> None:
    builder, chart = by_hand()
    nest = builder.project.cell.holder("nest")
    for off, hits in ((0.02e-3, False), (0.2e-3, True)):
        moved = replace(nest, pose=Pose.from_matrix(nest.pose.matrix @ se3.translation(0.0, off, 0.0)))
        holders = tuple(moved if h.name == "nest" else h for h in builder.project.cell.holders)
        project = replace(builder.project, cell=replace(builder.project.cell, holders=holders))
        element = of_kind(chart, "assemble", "right", "pin")
        proof = verify(project, until(chart, element.number), "sha")
        into = [v for v in found(proof, "collision", element.number) if {v.a, v.b} == {"pin", "block"}]
        assert bool(into) == hits, (off, into)


@pytest.mark.parametrize(("from_axis", "hits"), [(3.1e-3, False), (2.9e-3, True)])
def test_a_rib_half_way_down_a_bore_is_met(tmp_path: Path, from_axis: float, hits: bool) -> None:
    """The pin is a cube of 5 mm at its tip, the rib one of 1 mm; the tip is past it when it is home."""
    cube = tmp_path / "cube.stl"
    cube.write_bytes(_cube_of_one())
    builder, chart = by_hand()
    product = builder.project.product
    tip = Solid(Mesh(str(cube), 5e-3), Pose((0.0, 0.0, -17.5e-3)))
    rib = Solid(Mesh(str(cube), 1e-3), Pose((-28e-3 + from_axis, 0.0, 22e-3)))
    block = replace(product.part("block"), solids=(*product.part("block").solids, rib))
    changed = {"pin": replace(product.part("pin"), solids=(tip,)), "block": block}
    parts = tuple(changed.get(part.name, part) for part in product.parts)
    project = replace(builder.project, product=replace(product, parts=parts))
    element = of_kind(chart, "assemble", "right", "pin")
    proof = verify(project, until(chart, element.number), "sha")
    into = [v for v in found(proof, "collision", element.number) if {v.a, v.b} == {"pin", "block"}]
    assert bool(into) == hits, into


def _cube_of_one() -> bytes:
    """A binary STL file of a cube of edge 1 about the origin."""
    vertices, triangles = cube_of(1.0)
    records = b"".join(
        struct.pack("<12fH", 0.0, 0.0, 0.0, *vertices[list(triangle)].reshape(-1), 0)
        for triangle in triangles
    )
    return b"\0" * 80 + struct.pack("<I", len(triangles)) + records


def test_a_touch_that_presses_on_beyond_its_overtravel() -> None:
    builder, chart = by_hand()
    element = of_kind(chart, "locate", "right", "pin")
    hand = builder.hands["right"]
    for deeper, hits in ((1.5, False), (4.0, True)):
        place = next(
            i for i, m in enumerate(element.motions) if abs(hand.grip(np.array(m.q[-1]))[0, 3] + 0.054) < 1e-6
        )
        q = np.array(element.motions[place].q[-1])
        inside = hand.reach(at(-54 + deeper, 450, 50), q)
        there = trapezoid(q, inside, "right", hand.speed, hand.acceleration)
        back = trapezoid(inside, q, "right", hand.speed, hand.acceleration)
        spoilt = detour(chart, element.number, place + 1, there, back)
        proof = verify(builder.project, until(spoilt, element.number), "sha")
        assert bool(found(proof, "collision", element.number)) == hits, deeper


def test_a_touch_in_an_element_that_is_no_locate_collides() -> None:
    builder, chart = by_hand()
    element = of_kind(chart, "locate", "right", "pin")
    for touch in (None, element.touch):
        spoilt = with_element(chart, element.number, kind="move", touch=touch)
        proof = verify(builder.project, until(spoilt, element.number), "sha")
        assert any({v.a, v.b} == {"pin", "block"} for v in found(proof, "collision", element.number))


def test_progress_runs_from_nothing_to_one() -> None:
    builder, chart = by_hand()
    told: list[float] = []
    verify(builder.project, until(chart, 2), "sha", progress=told.append)
    assert told == sorted(told)
    assert told[-1] == 1.0
