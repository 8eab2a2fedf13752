"""The example planned: what an engineer would look for in its chart."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from handfast.checking.checked_project import CheckedProject
from handfast.kinematics.forward import forward
from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.planning import plan
from handfast.planning.workspace import Workspace
from handfast.spatial import se3

from .conftest import SEED, certified


def of(chart: Chart, **wanted: str) -> list[Element]:
    return [e for e in chart.elements if all(getattr(e, k) == v for k, v in wanted.items())]


def one(chart: Chart, **wanted: str) -> Element:
    (e,) = of(chart, **wanted)
    return e


def end(e: Element) -> float:
    return e.start_s + e.duration_s


def test_every_mate_is_done_in_the_order_that_is_given(chart: Chart) -> None:
    assert chart.mates == ("pin-in-bore", "cover-on-block", "cover-screw")
    assert (chart.project, chart.hands) == ("first-fit", ("left", "right"))
    homes = [one(chart, kind="assemble", object="pin"), one(chart, kind="assemble", object="cover"),
             one(chart, kind="use", target="block.tapped")]  # fmt: skip
    assert [e.mate for e in homes] == list(chart.mates)
    assert [e.start_s for e in homes] == sorted(e.start_s for e in homes)


def test_the_pin_is_handed_over_once(chart: Chart) -> None:
    """By its tip end to the other hand, which needs it by the top: the giver lets go after the taker has
    closed."""
    handovers = [e for e in chart.elements if e.kind == "grasp" and e.target.startswith("hand.")]
    assert [(e.object, e.hand, e.target) for e in handovers] == [("pin", "right", "hand.left")]
    given = one(chart, kind="release", object="pin", hand="left")
    assert given.start_s >= end(handovers[0]) - 1e-9
    first = one(chart, kind="grasp", object="pin", hand="left")
    assert first.grasp is not None
    assert handovers[0].grasp is not None
    assert (first.grasp.features, handovers[0].grasp.features) == (("tip",), ("top",))


def test_the_block_is_touched_before_the_pin_goes_in(chart: Chart) -> None:
    touch = one(chart, kind="locate")
    assert touch.touch is not None
    assert (touch.touch.held, touch.touch.part, touch.touch.feature) == ("pin", "block", "end")
    assert touch.guarded is not None
    assert touch.motions[touch.guarded].path == "line"
    assert end(touch) <= one(chart, kind="position", object="pin").start_s + 1e-9
    assert touch.start_s >= end(one(chart, kind="release", object="pin", hand="left")) - 1e-9


def test_the_cover_is_held_while_the_screw_goes_in(chart: Chart) -> None:
    on, off = one(chart, kind="assemble", object="cover"), one(chart, kind="release", object="cover")
    screwing = one(chart, kind="use", target="block.tapped")
    assert end(on) <= screwing.start_s
    assert off.start_s >= end(screwing) - 1e-9
    assert on.hand == off.hand != screwing.hand
    between = [
        e for e in chart.elements if e.hand == on.hand and end(on) - 1e-9 <= e.start_s < off.start_s - 1e-9
    ]
    assert {(e.kind, e.object) for e in between} == {("hold", "cover")}


def test_the_driver_is_fetched_used_and_put_back(chart: Chart) -> None:
    take, back = one(chart, kind="grasp", object="driver"), one(chart, kind="release", object="driver")
    assert take.target == back.target == "place.stand.driver"
    assert back.leaves is not None
    assert back.leaves.parent == "place.stand.driver"
    np.testing.assert_allclose(back.leaves.pose.matrix, np.eye(4), atol=1e-9)
    up, home = of(chart, kind="use")
    assert end(take) <= up.start_s < home.start_s < back.start_s
    assert (up.target, home.target) == ("tool.driver", "block.tapped")
    assert home.torque == pytest.approx(1.8)
    assert home.turns == pytest.approx(2 * np.pi * 6 / 0.7)  # 6 mm of M4 (pitch 0.7 mm, ISO 261)


def test_each_hand_does_one_thing_after_another_without_a_gap(chart: Chart) -> None:
    assert [e.number for e in chart.elements] == list(range(1, len(chart.elements) + 1))
    assert len({e.id for e in chart.elements}) == len(chart.elements)
    for hand in chart.hands:
        own = of(chart, hand=hand)
        assert own[0].start_s == 0
        for a, b in pairwise(own):
            assert b.start_s == pytest.approx(end(a), abs=1e-6)
        assert end(own[-1]) == pytest.approx(chart.makespan_s, abs=1e-6)


def test_motions_join_and_end_at_home(chart: Chart, workspace: Workspace) -> None:
    for hand in chart.hands:
        chain = workspace.hands[hand].chain
        q = chain.home
        for e in of(chart, hand=hand):
            for motion in e.motions:
                assert motion.arm == hand
                np.testing.assert_allclose(motion.q[0], q, atol=1e-9)
                q = np.array(motion.q[-1])
            assert e.before_s + sum(m.duration for m in e.motions) <= e.duration_s + 1e-9
        np.testing.assert_allclose(q, chain.home, atol=1e-9)


def test_hands_close_where_their_grasps_say(chart: Chart, workspace: Workspace) -> None:
    """Picked up where it lies; put in where the drawing has it, 20 mm deep (worked out by hand from the
    files)."""
    nest = se3.translation(0, 0.450, 0.015)
    homes = {"pin": nest @ se3.translation(-0.028, 0, 0.030), "cover": nest @ se3.translation(0, 0, 0.030)}
    for part, T_world_home in homes.items():
        e = one(chart, kind="assemble", object=part)
        grasp = next(g.grasp for g in reversed(of(chart, kind="grasp", object=part, hand=e.hand)))
        assert grasp is not None
        h = workspace.hands[e.hand]
        T_world_grip = forward(h.chain, e.motions[-1].q[-1])[0] @ h.mount
        T_world_part = T_world_grip @ grasp.T_grip_part.matrix
        np.testing.assert_allclose(T_world_part[:3, 3], T_world_home[:3, 3], atol=1e-6)
        np.testing.assert_allclose(T_world_part[:3, 2], T_world_home[:3, 2], atol=1e-6)


def test_the_pin_stops_a_millimetre_before_it_enters(chart: Chart, workspace: Workspace) -> None:
    """20 mm of engagement and 1 mm: there the compliant insertion takes over, straight down on the bore."""
    position, assemble = one(chart, kind="position", object="pin"), one(chart, kind="assemble", object="pin")
    h = workspace.hands[position.hand]
    gate, home = (forward(h.chain, e.motions[-1].q[-1])[0] @ h.mount for e in (position, assemble))
    np.testing.assert_allclose(gate[:3, 3] - home[:3, 3], [0, 0, 0.021], atol=1e-6)
    np.testing.assert_allclose(gate[:3, :3], home[:3, :3], atol=1e-6)
    speed = 0.021 / assemble.motions[0].duration
    assert speed <= workspace.project.cell.controller.insert_speed


def test_editing_the_last_mate_leaves_the_first_as_it_was(first_fit: CheckedProject, chart: Chart) -> None:
    *others, screw = first_fit.project.product.mates
    product = replace(first_fit.project.product, mates=(*others, replace(screw, torque=1.5)))
    after = plan(certified(replace(first_fit.project, product=product)), seed=SEED)
    assert isinstance(after, Chart)
    assert of(after, mate="pin-in-bore") == of(chart, mate="pin-in-bore")
    assert of(after, kind="use", target="block.tapped")[0].torque == pytest.approx(1.5)


def test_equal_seeds_give_equal_charts(first_fit: CheckedProject, chart: Chart) -> None:
    assert plan(first_fit, seed=SEED) == chart
    other = plan(first_fit, seed=SEED + 1)
    assert isinstance(other, Chart)
    assert other.mates == chart.mates


def test_progress_is_told_before_every_mate(first_fit: CheckedProject) -> None:
    told: list[tuple[str, int, int]] = []
    plan(first_fit, seed=SEED, progress=lambda mate, done, of: told.append((mate, done, of)))
    assert [t for i, t in enumerate(told) if t not in told[:i]] == [
        ("pin-in-bore", 0, 3), ("cover-on-block", 1, 3), ("cover-screw", 2, 3),
    ]  # fmt: skip
