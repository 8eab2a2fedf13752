"""A frame turned over twice with what is in it by then: plan, proof, and a proof that sees it broken."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from tests.groups.broken_off import proof_of, up_to, with_element, wrong

from handfast.checking.check import check
from handfast.checking.checked_project import CheckedProject
from handfast.model.chart import Chart
from handfast.model.project import Project
from handfast.model.shape import Box, Solid
from handfast.spatial.pose import Pose

FOLDER = Path(__file__).parents[2] / "projects" / "relay-frame"


def with_place(project: Project, name: str, **change: object) -> Project:
    """The project with one place of the nest changed."""
    nest = project.cell.holder("nest")
    places = tuple(replace(p, **change) if p.name == name else p for p in nest.places)  # type: ignore[arg-type]
    return with_nest(project, replace(nest, places=places))


def with_nest(project: Project, nest: object) -> Project:
    holders = tuple(nest if h.name == "nest" else h for h in project.cell.holders)
    return replace(project, cell=replace(project.cell, holders=holders))  # type: ignore[arg-type]


def test_turned_over_twice_and_held(checked: CheckedProject, chart: Chart) -> None:
    put = [
        e.leaves.parent for e in chart.elements if e.kind == "release" and e.object == "frame" and e.leaves
    ]
    assert put == ["place.nest.over", "place.nest.upright"]
    assert set(chart.mates) == {m.name for m in checked.project.product.mates}
    proof = proof_of(checked.project, chart)
    assert proof.violations == ()
    assert any("pin_a1" in text and "stay in" in text for text in proof.assumptions)


def test_frame_left_elsewhere_than_it_was_put_is_refused(checked: CheckedProject, chart: Chart) -> None:
    """The chart says that the frame, pins and all, was never turned over."""
    release = next(e for e in chart.elements if e.kind == "release" and e.object == "frame")
    assert release.leaves is not None
    still = replace(release.leaves, parent="place.nest.upright")
    broken = with_element(up_to(chart, "pin-b1", "assemble"), release.number, leaves=still)
    found = wrong(proof_of(checked.project, broken))
    assert any(k == "wrong place" and "'frame' cannot stay at place.nest.upright" in t for k, t in found), (
        found
    )


def test_mate_done_on_the_wrong_side_up_is_refused(checked: CheckedProject, chart: Chart) -> None:
    product = checked.project.product
    mates = tuple(replace(m, stands="place.nest.upright") if m.name == "pin-b1" else m for m in product.mates)
    other = replace(checked.project, product=replace(product, mates=mates))
    found = wrong(proof_of(other, up_to(chart, "pin-b1", "assemble")))
    assert any(
        "'frame' is to stand at place.nest.upright meanwhile and is at place.nest.over" in t for _, t in found
    )


def test_place_that_takes_nothing_is_refused(checked: CheckedProject, chart: Chart) -> None:
    other = with_place(checked.project, "over", takes=None)
    found = wrong(proof_of(other, up_to(chart, "pin-b1", "assemble")))
    assert any("'frame' cannot stay at place.nest.over" in t for _, t in found), found
    refused = check(other)
    assert isinstance(refused, tuple)
    assert "stands-elsewhere" in {f.rule for f in refused}


def test_pins_that_hang_below_are_certified_too(checked: CheckedProject, chart: Chart) -> None:
    """Something between the rails, out of the frame's own way, under the first pin once it hangs down."""
    nest = checked.project.cell.holder("nest")
    # Turned about x: what is at (-15, -10) above is at (-15, +10) of the place at y 50, 6 below 100.
    block = Solid(Box((0.003, 0.003, 0.01)), Pose((-0.015, 0.060, 0.091)))
    other = with_nest(checked.project, replace(nest, solids=(*nest.solids, block)))
    hits = [
        v for v in proof_of(other, up_to(chart, "pin-b1", "assemble")).violations if v.kind == "collision"
    ]
    assert {frozenset((v.a, v.b)) for v in hits} == {frozenset(("pin_a1", "nest"))}, hits


def test_what_would_fall_out_when_turned_is_found(checked: CheckedProject) -> None:
    product = checked.project.product
    mates = tuple(replace(m, stays=False) if m.name == "pin-a1" else m for m in product.mates)
    found = check(replace(checked.project, product=replace(product, mates=mates)))
    assert isinstance(found, tuple)
    assert [(f.rule, f.where) for f in found] == [("loose-when-carried", "mates.pin-a1")]


def test_what_is_built_so_far_is_not_set_down_just_anywhere(checked: CheckedProject, chart: Chart) -> None:
    """On a set-down a part may lie as it comes to rest; how several together do, nobody knows."""
    other = with_nest(checked.project, replace(checked.project.cell.holder("nest"), kind="set-down"))
    found = wrong(proof_of(other, up_to(chart, "pin-b1", "assemble")))
    assert any("it carries pin_a1, pin_a2" in text for kind, text in found if kind == "wrong place"), found
