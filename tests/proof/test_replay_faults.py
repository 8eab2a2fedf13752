"""Faults that the replay has to catch, each planted in a chart that holds. Distances are not looked at here
(`certify` is left out), so that each fault has to be caught by its own check."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.proof.chart_by_hand import ByHand, with_element
from tests.proof.faults import faster, found, grasp_of, leaves_of, of_kind, renumbered, shifted, with_motion
from tests.proof.first_fit_by_hand import by_hand

from handfast.model.chart import Chart
from handfast.model.project import Project
from handfast.model.proof import Proof
from handfast.model.scene import Attachment, Scene
from handfast.proof import verify
from handfast.spatial import se3
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import Array

Made = tuple[ByHand, Chart]


@pytest.fixture
def made(monkeypatch: pytest.MonkeyPatch) -> Made:
    monkeypatch.setattr("handfast.proof.in_parts.certify", lambda *args: None)
    return by_hand()


def test_what_is_spoilt_below_is_sound(made: Made) -> None:
    assert proof(made, made[1]).holds


def proof(made: Made, chart: Chart, project: Project | None = None) -> Proof:
    return verify(project or made[0].project, chart, "sha")


def test_a_grasp_frame_turned_by_half_a_turn_is_a_wrong_grasp(made: Made) -> None:
    for axis in np.eye(3):
        for hand, item in (("left", "pin"), ("right", "pin"), ("left", "cover"), ("right", "driver")):
            element = of_kind(made[1], "grasp", hand, item)
            turned = Pose.from_matrix(grasp_of(element).T_grip_part.matrix @ se3.rotation(axis, math.pi))
            spoilt = with_element(
                made[1], element.number, grasp=replace(grasp_of(element), T_grip_part=turned)
            )
            assert found(proof(made, spoilt), "wrong grasp", element.number, b=item), (axis, hand, item)


def test_a_grasp_that_is_a_tenth_of_a_millimetre_off_is_a_wrong_grasp(made: Made) -> None:
    element = of_kind(made[1], "grasp", "left", "cover")
    off = Pose.from_matrix(grasp_of(element).T_grip_part.matrix @ se3.translation(0.1e-3, 0, 0))
    spoilt = with_element(made[1], element.number, grasp=replace(grasp_of(element), T_grip_part=off))
    (violation,) = found(proof(made, spoilt), "wrong grasp", element.number)
    assert violation.amount == pytest.approx(0.1e-3, rel=1e-3)
    assert "0.100 mm" in violation.text


def test_jaws_that_close_beside_the_part_or_into_it_are_a_wrong_grasp(made: Made) -> None:
    element = of_kind(made[1], "grasp", "right", "pin")
    for width, word in ((0.0084, "beside"), (0.0076, "cuts into")):
        spoilt = with_element(made[1], element.number, grasp=replace(grasp_of(element), width=width))
        texts = [v.text for v in found(proof(made, spoilt), "wrong grasp", element.number)]
        assert any(word in text for text in texts), (width, texts)


def test_a_grasp_wider_than_the_jaws_open_is_over_a_limit(made: Made) -> None:
    element = of_kind(made[1], "grasp", "left", "cover")
    gripper = replace(made[0].project.cell.gripper_of("left"), opening=(0.0, 0.040))
    others = tuple(g for g in made[0].project.cell.grippers if g.arm != "left")
    project = replace(made[0].project, cell=replace(made[0].project.cell, grippers=(gripper, *others)))
    assert found(proof(made, made[1], project), "limit", element.number)


def test_a_jump_between_motions(made: Made) -> None:
    element = of_kind(made[1], "move", "left", "cover")
    for index in (0, 3):
        spoilt = with_motion(made[1], element.number, index, lambda m: shifted(m, 2, 0.01))
        jumps = found(proof(made, spoilt), "jump", element.number)
        assert len(jumps) == 2  # into the motion and out of it
        assert jumps[0].amount == pytest.approx(0.01)


def test_a_knot_off_the_constant_acceleration_law(made: Made) -> None:
    element = of_kind(made[1], "move", "left", "cover")
    motion = element.motions[0]
    rows = [list(row) for row in motion.q]
    rows[1][1] += 2e-6
    moved = replace(motion, q=tuple(tuple(row) for row in rows))
    spoilt = with_motion(made[1], element.number, 0, lambda _: moved)
    assert found(proof(made, spoilt), "discontinuity", element.number)


def test_a_motion_that_ends_at_speed(made: Made) -> None:
    element = of_kind(made[1], "move", "left", "cover")
    motion = element.motions[0]
    h = motion.t[-1] - motion.t[-2]
    v = (*motion.v[:-1], tuple(x + 0.01 for x in motion.v[-1]))
    q = (*motion.q[:-1], tuple(x + 0.005 * h for x in motion.q[-1]))  # knots that agree
    spoilt = with_motion(made[1], element.number, 0, lambda m: replace(m, v=v, q=q))
    texts = [x.text for x in found(proof(made, spoilt), "discontinuity", element.number)]
    assert any("instead of at rest" in text for text in texts)


def test_speed_and_acceleration_over_their_limits(made: Made) -> None:
    element = of_kind(made[1], "move", "left", "pin")
    longest = max(range(len(element.motions)), key=lambda i: element.motions[i].duration)
    spoilt = with_motion(made[1], element.number, longest, lambda m: faster(m, 1.02))
    texts = [v.text for v in found(proof(made, spoilt), "speed", element.number)]
    assert any("has speed" in text or "has acceleration" in text for text in texts)
    faster_yet = with_motion(made[1], element.number, longest, lambda m: faster(m, 3.0))
    texts = [v.text for v in found(proof(made, faster_yet), "speed", element.number)]
    assert any("has speed" in text for text in texts)
    assert any("has acceleration" in text for text in texts)


def test_the_speed_share_of_the_arm_counts(made: Made) -> None:
    cell = made[0].project.cell
    slow = replace(cell, arms=tuple(replace(arm, speed=arm.speed / 2) for arm in cell.arms))
    assert any(
        v.kind == "speed" for v in proof(made, made[1], replace(made[0].project, cell=slow)).violations
    )


def test_a_joint_limit_passed_only_between_two_knots(made: Made) -> None:
    # One segment that swings over the limit and back: both knots lie inside, the turning point outside.
    element = of_kind(made[1], "reach", "right", "pin")
    model = made[0].hands["right"].model
    start = np.array(element.motions[0].q[0])
    limit = model.upperPositionLimit[0]
    q0, top = limit - 0.05, limit + 0.02
    v0 = math.sqrt(2 * 3.0 * (top - q0))
    h = v0 / 1.5

    def row(value: float, rest: Array) -> tuple[float, ...]:
        return tuple(float(x) for x in (value, *rest[1:]))

    rest = np.zeros(6)
    ramp = v0 / 3.0
    t = (0.0, ramp, ramp + h, 2 * ramp + h)
    q = tuple(row(x, start) for x in (q0 - v0 * ramp / 2, q0, q0, q0 - v0 * ramp / 2))
    v = tuple(row(x, rest) for x in (0.0, v0, -v0, 0.0))
    spoilt = with_motion(made[1], element.number, 0, lambda m: replace(m, t=t, q=q, v=v))
    (violation,) = found(proof(made, spoilt), "limit", element.number)
    assert violation.amount == pytest.approx(0.02, rel=1e-6)


def test_a_part_that_starts_elsewhere(made: Made) -> None:
    start = made[1].start
    moved = start.moved(replace(start.of("pin"), pose=Pose((0.001, 0.0, 0.0))))
    elsewhere = start.moved(replace(start.of("pin"), parent="place.presenter.screw"))
    gone = Scene(tuple(a for a in start.attachments if a.item != "pin"), start.openings)
    more = Scene((*start.attachments, Attachment("nut", "place.tray.pin", Pose())), start.openings)
    for scene, item in ((moved, "pin"), (elsewhere, "pin"), (gone, "pin"), (more, "nut")):
        assert found(proof(made, replace(made[1], start=scene)), "wrong place", 0, a=item), scene


def test_a_part_teleported_when_it_is_let_go(made: Made) -> None:
    for hand, item in (("left", "pin"), ("right", "pin"), ("right", "driver"), ("left", "cover")):
        element = of_kind(made[1], "release", hand, item)
        leaves = leaves_of(element)
        off = replace(leaves, pose=Pose.from_matrix(leaves.pose.matrix @ se3.translation(0, 0, 1e-3)))
        spoilt = with_element(made[1], element.number, leaves=off)
        assert found(proof(made, spoilt), "wrong place", element.number, b=item)


def test_a_part_cannot_be_left_where_nothing_keeps_it(made: Made) -> None:
    driver = of_kind(made[1], "release", "right", "driver")
    pin = of_kind(made[1], "release", "left", "pin")
    for element, parent in ((driver, "part.block"), (driver, "place.tray.pin"), (driver, "place.tray.none"),
                            (pin, "part.block"), (pin, "hand.left"), (driver, "shelf")):  # fmt: skip
        leaves = replace(leaves_of(element), parent=parent)
        spoilt = with_element(made[1], element.number, leaves=leaves)
        texts = [v.text for v in found(proof(made, spoilt), "wrong place", element.number)]
        assert texts, parent


def test_the_cover_let_go_before_the_screw_is_in(made: Made) -> None:
    chart = made[1]
    release = of_kind(chart, "release", "left", "cover")
    cover_on = of_kind(chart, "assemble", "left", "cover")
    rest = [e for e in chart.elements if e.number != release.number]
    place = rest.index(chart.element(cover_on.number)) + 1
    early = renumbered(chart, [*rest[:place], release, *rest[place:]])
    (violation,) = found(proof(made, early), "not held", place + 1)
    assert "'cover'" in violation.text
    assert "'cover-screw'" in violation.text


def test_a_hold_by_a_hand_that_holds_nothing(made: Made) -> None:
    chart = made[1]
    hold = replace(chart.elements[0], kind="hold", object="cover", motions=(), opening=None, duration_s=1.0)
    assert found(proof(made, renumbered(chart, [hold, *chart.elements])), "not held", 1)


def test_moving_what_is_not_in_the_hand(made: Made) -> None:
    grasp = of_kind(made[1], "grasp", "left", "cover")
    spoilt = renumbered(made[1], [e for e in made[1].elements if e.number != grasp.number])
    assert found(proof(made, spoilt), "not held", grasp.number)


def test_a_mate_left_out(made: Made) -> None:
    chart = made[1]
    kept = [e for e in chart.elements if e.mate != "cover-screw" or e.object == "cover"]
    result = proof(made, renumbered(chart, kept))
    assert [v.text for v in found(result, "missing mate", 0)] == [
        "mate 'cover-screw' is never done: no element brings 'screw' home"
    ]


def test_an_element_that_claims_another_mate(made: Made) -> None:
    element = of_kind(made[1], "assemble", "right", "pin")
    spoilt = with_element(made[1], element.number, mate="cover-on-block")
    result = proof(made, spoilt)
    assert found(result, "missing mate", element.number)
    assert any("pin-in-bore" in v.text for v in found(result, "missing mate", 0))


def test_order_swapped(made: Made) -> None:
    chart = made[1]
    pin = [e for e in chart.elements if e.mate == "pin-in-bore"]
    rest = [e for e in chart.elements if e.mate != "pin-in-bore"]
    result = proof(made, renumbered(chart, [*rest, *pin]))
    texts = [v.text for v in result.violations if v.kind == "order"]
    assert any("'cover-on-block' is done before 'pin-in-bore'" in text for text in texts)


def test_needs_are_respected_where_no_order_is_given(made: Made) -> None:
    product = made[0].project.product
    mates = tuple(
        replace(m, needs=("cover-on-block",)) if m.name == "pin-in-bore" else m for m in product.mates
    )
    project = replace(made[0].project, product=replace(product, mates=mates, order_given=False))
    texts = [v.text for v in proof(made, made[1], project).violations if v.kind == "order"]
    assert any("'pin-in-bore' is done before 'cover-on-block'" in text for text in texts)


def test_mates_listed_in_another_order_than_done(made: Made) -> None:
    spoilt = replace(made[1], mates=tuple(reversed(made[1].mates)))
    assert found(proof(made, spoilt), "order", 0)


def test_a_part_that_ends_beside_its_home(made: Made) -> None:
    product = made[0].project.product
    for by in ((0.1e-3, 0, 0), (0, 0, 0.1e-3)):
        block = product.part("block")
        bore = block.feature("bore")
        off = replace(bore, frame=Pose.from_matrix(se3.translation(*by) @ bore.frame.matrix))
        others = tuple(f for f in block.features if f.name != "bore")
        parts = tuple(replace(p, features=(off, *others)) if p.name == "block" else p for p in product.parts)
        project = replace(made[0].project, product=replace(product, parts=parts))
        element = of_kind(made[1], "assemble", "right", "pin")
        (violation,) = found(proof(made, made[1], project), "wrong place", element.number)
        assert violation.amount == pytest.approx(0.1e-3, rel=1e-3)


def test_a_second_pair_that_does_not_meet(made: Made) -> None:
    product = made[0].project.product
    cover = product.part("cover")
    hole = cover.feature("screw_hole")
    off = replace(hole, frame=Pose.from_matrix(se3.translation(0.3e-3, 0, 0) @ hole.frame.matrix))
    features = tuple(off if f.name == "screw_hole" else f for f in cover.features)
    parts = tuple(replace(p, features=features) if p.name == "cover" else p for p in product.parts)
    project = replace(made[0].project, product=replace(product, parts=parts))
    element = of_kind(made[1], "assemble", "left", "cover")
    texts = [v.text for v in found(proof(made, made[1], project), "wrong place", element.number)]
    assert any("cover.screw_hole" in text for text in texts)


def test_the_cover_may_not_be_moved_on_after_it_went_home(made: Made) -> None:
    chart = made[1]
    onto = of_kind(chart, "assemble", "left", "cover")
    again = replace(onto, kind="move", motions=(replace(onto.motions[-1], q=onto.motions[-1].q[::-1],
                    v=tuple(tuple(-x for x in row) for row in onto.motions[-1].v)),))  # fmt: skip
    place = onto.number
    spoilt = renumbered(chart, [*chart.elements[:place], again, *chart.elements[place:]])
    texts = [v.text for v in found(proof(made, spoilt), "wrong grasp", place + 1)]
    assert any("part.block" in text for text in texts)


def test_two_hands_on_one_part_may_not_move(made: Made) -> None:
    chart = made[1]
    release = of_kind(chart, "release", "left", "pin")
    spoilt = renumbered(chart, [e for e in chart.elements if e.number != release.number])
    texts = [v.text for v in found(proof(made, spoilt), "wrong grasp", release.number)]
    assert any("also held by hand.left" in text for text in texts)


def test_a_hand_that_holds_something_takes_nothing_else(made: Made) -> None:
    chart = made[1]
    grasp = of_kind(chart, "grasp", "left", "pin")
    second = replace(grasp, object="cover")
    spoilt = renumbered(chart, [*chart.elements[: grasp.number], second, *chart.elements[grasp.number :]])
    texts = [v.text for v in found(proof(made, spoilt), "wrong grasp", grasp.number + 1)]
    assert any("already holds 'pin'" in text for text in texts)


def test_jaws_that_open_while_they_hold(made: Made) -> None:
    element = of_kind(made[1], "move", "right", "driver")
    spoilt = with_element(made[1], element.number, opening=0.050)
    assert found(proof(made, spoilt), "wrong grasp", element.number)


def test_the_screw_needs_its_tool_and_torque(made: Made) -> None:
    chart, project = made[1], made[0].project
    drive = next(e for e in chart.elements if e.kind == "use" and e.torque is not None)
    assert found(proof(made, with_element(chart, drive.number, torque=None)), "limit", drive.number)
    assert found(proof(made, with_element(chart, drive.number, torque=1.5)), "limit", drive.number)
    tool = replace(project.cell.tools[0], threads=("M5",))
    other = replace(project, cell=replace(project.cell, tools=(tool,)))
    assert found(proof(made, chart, other), "wrong grasp", drive.number)
    weak = replace(project.cell.tools[0], spindle=replace(project.cell.tools[0].spindle, torque=1.0))
    other = replace(project, cell=replace(project.cell, tools=(weak,)))
    assert found(proof(made, chart, other), "limit", drive.number)
    loose = replace(project.cell.tools[0], spindle=replace(project.cell.tools[0].spindle, retains="none"))
    other = replace(project, cell=replace(project.cell, tools=(loose,)))
    assert any(v.kind == "not held" for v in proof(made, chart, other).violations)


def test_the_bit_has_to_stand_at_the_socket(made: Made) -> None:
    project = made[0].project
    tool = project.cell.tools[0]
    bit = Pose.from_matrix(se3.translation(0.2e-3, 0, 0) @ tool.bit.matrix)
    other = replace(project, cell=replace(project.cell, tools=(replace(tool, bit=bit),)))
    texts = [v.text for v in proof(made, made[1], other).violations if v.kind == "wrong place"]
    assert any("the bit of 'driver' is not at 'screw'" in text for text in texts)


def test_times_that_overlap_or_are_too_short(made: Made) -> None:
    chart = made[1]
    move = of_kind(chart, "move", "left", "cover")
    early = with_element(chart, move.number, start_s=move.start_s - 0.01)
    assert found(proof(made, early), "time", move.number)
    short = with_element(chart, move.number, duration_s=move.duration_s - 0.01)
    assert found(proof(made, short), "time", move.number)
    grasp = of_kind(chart, "grasp", "left", "cover")
    quick = with_element(chart, grasp.number, duration_s=0.1)
    assert found(proof(made, quick), "time", grasp.number)
    assert any(v.kind == "time" for v in proof(made, replace(chart, makespan_s=1.0)).violations)


def test_a_touch_that_never_arrives_or_is_of_no_face(made: Made) -> None:
    chart = made[1]
    locate = of_kind(chart, "locate", "right", "pin")
    touch = locate.touch
    assert touch is not None
    away = replace(touch, point=(-touch.point[0], -touch.point[1], touch.point[2]))
    for spoilt in (
        away,
        replace(touch, feature="front"),
        replace(touch, feature="bore"),
        replace(touch, held="cover"),
    ):
        result = proof(made, with_element(chart, locate.number, touch=spoilt))
        assert [v for v in result.violations if v.element == locate.number], spoilt
    short = with_element(chart, locate.number, motions=locate.motions[:1])
    assert found(proof(made, short), "wrong place", locate.number)


def test_motions_that_cannot_be_read(made: Made) -> None:
    element = of_kind(made[1], "move", "left", "cover")
    nan = float("nan")
    for change in (
        lambda m: replace(m, q=m.q[:-1]),
        lambda m: replace(m, t=(0.0, *m.t[:-1])),
        lambda m: replace(m, v=((nan,) * 6, *m.v[1:])),
        lambda m: replace(m, arm="right"),
        lambda m: replace(m, t=m.t[:1], q=m.q[:1], v=m.v[:1]),
    ):
        spoilt = with_motion(made[1], element.number, 0, change)
        assert found(proof(made, spoilt), "discontinuity", element.number)


def test_a_hand_that_the_cell_does_not_have(made: Made) -> None:
    element = of_kind(made[1], "move", "left", "cover")
    texts = [v.text for v in proof(made, with_element(made[1], element.number, hand="third")).violations]
    assert any("no hand 'third'" in text for text in texts)
