"""Four valves built apart and joined: 29 parts in one plan, and a proof that knows what a valve carries."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from tests.groups.broken_off import of, proof_of, up_to, with_element, wrong

from handfast.checking.check import check
from handfast.checking.checked_project import CheckedProject
from handfast.model.cell import Obstacle
from handfast.model.chart import Chart
from handfast.model.shape import Box, Solid
from handfast.spatial.pose import Pose

FOLDER = Path(__file__).parents[2] / "projects" / "valve-bank"


def test_more_than_25_parts_built_in_four_places_and_joined(checked: CheckedProject, chart: Chart) -> None:
    product = checked.project.product
    assert len(product.parts) == 29
    assert len(product.subassemblies) == 4
    assert set(chart.mates) == {m.name for m in product.mates}
    places = {chart.start.of(s.base).parent for s in product.subassemblies}
    assert len(places | {chart.start.of(product.base).parent}) == 5
    for i in range(1, 5):  # each is whole before it is taken up
        taken = of(chart, f"valve-{i}", "grasp").number
        inside = next(s for s in product.subassemblies if s.base == f"body_{i}").mates
        assert all(e.number < taken for e in chart.elements if e.mate in inside)


def test_whole_chart_holds(checked: CheckedProject, chart: Chart) -> None:
    proof = proof_of(checked.project, chart)
    assert proof.violations == ()
    reasons = {(frozenset((c.a, c.b)), c.reason) for c in proof.contacts}
    assert (frozenset(("body_3", "manifold")), "mate") in reasons


def test_part_left_in_another_than_its_own_is_refused(checked: CheckedProject, chart: Chart) -> None:
    release = of(chart, "cap-1", "release")
    assert release.leaves is not None
    elsewhere = replace(release.leaves, parent="part.manifold")
    broken = with_element(up_to(chart, "cap-1", "release"), release.number, leaves=elsewhere)
    found = wrong(proof_of(checked.project, broken))
    assert {k for k, _ in found} == {"wrong place"}, found
    assert any("'cap_1' cannot stay at part.manifold: it is at part.body_1" in text for _, text in found)


def test_valve_joined_before_it_is_whole_is_refused(checked: CheckedProject, chart: Chart) -> None:
    """Its last screw never comes: the valve would be carried with its cap half fastened."""
    elements = tuple(e for e in up_to(chart, "valve-1", "assemble").elements if e.mate != "screw-1b")
    broken = replace(up_to(chart, "valve-1", "assemble"), elements=elements)
    found = proof_of(checked.project, broken).violations
    due = [v for v in found if v.kind == "order" and "'screw-1b', which it needs" in v.text]
    assert [v.text for v in due if "'valve-1' is done before" in v.text], found


def test_carried_parts_are_certified_with_what_carries_them(checked: CheckedProject, chart: Chart) -> None:
    """Something stands just above the manifold where the cap comes down, too high for any other part: the
    first valve's cap, which nobody holds, runs into it."""
    broken = up_to(chart, "valve-1", "assemble")
    cell = checked.project.cell
    # Right of the body's left grip, where the cap ends up: 15 + 25 + 40 mm over the table and up to 6 more.
    at = Pose((-0.075 - 0.017, 0.400, 0.015 + 0.025 + 0.043))
    spike = Obstacle("spike", (Solid(Box((0.002, 0.002, 0.002)), at),))
    project = replace(checked.project, cell=replace(cell, obstacles=(*cell.obstacles, spike)))
    hits = [v for v in proof_of(project, broken).violations if v.kind == "collision"]
    assert {frozenset((v.a, v.b)) for v in hits} >= {frozenset(("cap_1", "spike"))}, hits


@pytest.mark.parametrize(
    ("mate", "change", "rule"),
    [
        ("pin-2a", {"stays": False}, "loose-when-carried"),
        ("screw-2a", {"into": "manifold"}, "subassembly-whole"),
    ],
)
def test_what_would_fall_out_or_apart_is_found(
    checked: CheckedProject, mate: str, change: dict[str, object], rule: str
) -> None:
    product = checked.project.product
    mates = tuple(replace(m, **change) if m.name == mate else m for m in product.mates)  # type: ignore[arg-type]
    found = check(replace(checked.project, product=replace(product, mates=mates)))
    assert isinstance(found, tuple)
    assert rule in {f.rule for f in found}


def test_base_is_not_joined_twice_over(checked: CheckedProject) -> None:
    product = checked.project.product
    one, two, *rest = product.subassemblies
    both = replace(one, mates=(*one.mates, "cap-2"))
    found = check(replace(checked.project, product=replace(product, subassemblies=(both, two, *rest))))
    assert isinstance(found, tuple)
    assert {f.rule for f in found} >= {"subassembly-whole"}


def test_bases_that_wait_for_each_other_are_a_cycle(checked: CheckedProject) -> None:
    product = checked.project.product
    one, two, *rest = product.subassemblies
    ring = (replace(one, mates=(*one.mates, "valve-2")), replace(two, mates=(*two.mates, "valve-1")), *rest)
    found = check(replace(checked.project, product=replace(product, subassemblies=ring)))
    assert isinstance(found, tuple)
    assert "order-cycle" in {f.rule for f in found}


def test_weight_of_a_valve_is_that_of_all_its_parts(checked: CheckedProject, chart: Chart) -> None:
    from handfast.planning.replay import states_during
    from handfast.planning.workspace import make_workspace

    ws = make_workspace(checked.project)
    number = of(chart, "valve-2", "grasp").number
    state = states_during(ws.start(), chart.elements[:number])[-1]
    names = {name for name, _ in ws.group(state, "body_2")}
    assert names == {"pin_2a", "pin_2b", "cap_2", "screw_2a", "screw_2b"}
    assert np.isclose(ws.mass(state, "body_2"), 0.148 + 2 * 0.0024 + 0.017 + 2 * 0.002)
