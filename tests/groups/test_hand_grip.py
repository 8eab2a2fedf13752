"""A handle that one hand holds from beginning to end while the other builds into it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from tests.groups.broken_off import of, proof_of, up_to, with_element, wrong

from handfast.checking.checked_project import CheckedProject
from handfast.model.chart import Chart
from handfast.planning.failure import Failure
from handfast.planning.leg import Leg
from handfast.planning.stand import stood
from handfast.planning.workspace import make_workspace
from handfast.spatial.pose import Pose

FOLDER = Path(__file__).parents[2] / "projects" / "hand-grip"


def test_handle_is_taken_up_once_and_never_set_down(checked: CheckedProject, chart: Chart) -> None:
    own = [e for e in chart.elements if e.object == "handle"]
    assert [e.kind for e in own if e.hand == "left"][:3] == ["reach", "grasp", "move"]
    assert {e.kind for e in own if e.hand == "left"} == {"reach", "grasp", "move", "hold"}
    assert {e.hand for e in chart.elements if e.kind == "assemble"} == {"right"}
    assert set(chart.mates) == {m.name for m in checked.project.product.mates}
    last = [e for e in chart.elements if e.hand == "left"][-1]
    assert (last.kind, last.object) == ("hold", "handle")
    proof = proof_of(checked.project, chart)
    assert proof.violations == ()
    assert any("held by the left hand" in text for text in proof.assumptions)


@pytest.mark.parametrize(
    ("parent", "off", "said"),
    [
        ("place.rack.handle", 0.0, "'pin_1' cannot stay at place.rack.handle: it is at part.handle"),
        ("part.handle", 0.001, "'pin_1' is 1.000 mm"),
    ],
)
def test_part_left_elsewhere_than_in_the_held_handle_is_refused(
    checked: CheckedProject, chart: Chart, parent: str, off: float, said: str
) -> None:
    release = of(chart, "pin-1", "release")
    assert release.leaves is not None
    x, y, z = release.leaves.pose.position
    pose = Pose((x + off, y, z), release.leaves.pose.quaternion)
    leaves = replace(release.leaves, parent=parent, pose=pose)
    broken = with_element(up_to(chart, "pin-1", "release"), release.number, leaves=leaves)
    found = wrong(proof_of(checked.project, broken))
    assert any(k == "wrong place" and said in text for k, text in found), found


def test_held_by_another_hand_than_the_project_wants_is_refused(
    checked: CheckedProject, chart: Chart
) -> None:
    product = checked.project.product
    mates = tuple(replace(m, stands="hand.right") for m in product.mates)
    other = replace(checked.project, product=replace(product, mates=mates))
    found = wrong(proof_of(other, up_to(chart, "pin-1", "assemble")))
    assert any("'handle' is to stand at hand.right meanwhile and is at hand.left" in t for _, t in found), (
        found
    )


def test_hand_that_never_closes_holds_nothing(checked: CheckedProject, chart: Chart) -> None:
    grasp = of(chart, "pin-1", "grasp")
    assert grasp.object == "handle"
    broken = up_to(chart, "pin-1", "assemble")
    without = replace(broken, elements=tuple(e for e in broken.elements if e.number != grasp.number))
    found = wrong(proof_of(checked.project, without))
    assert any(k == "not held" and "the left hand holds nothing" in text for k, text in found), found


def test_force_that_the_holding_grasp_does_not_bear_is_told(checked: CheckedProject) -> None:
    """90 N and a friction of 0.3 on both pads: 54 N before it slips; half of it, as for all mates."""
    product = checked.project.product
    for force, bears in ((27.0, True), (27.1, False)):
        mates = tuple(replace(m, force_limit=force) for m in product.mates)
        ws = make_workspace(replace(checked.project, product=replace(product, mates=mates)))
        ways = stood(ws, Leg(ws.start()), mates[0], 7)
        if bears:
            assert any(isinstance(way, Leg) for way in ways)
        else:
            assert {f.cause for f in ways if isinstance(f, Failure)} >= {"not held"}
