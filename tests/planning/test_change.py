"""Changes applied: what they change, to the millimetre, and that they change nothing else."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from handfast.checking.checked_project import CheckedProject
from handfast.model.change import Change
from handfast.model.no_plan import CauseCount, NoPlan
from handfast.model.project import Project
from handfast.planning.change import applied, candidates


@pytest.fixture
def project(first_fit: CheckedProject) -> Project:
    return first_fit.project


def test_a_holder_is_moved_with_its_places(project: Project) -> None:
    after = applied(project, Change("move holder", "nest", (0.1, -0.2, 0.05), "cell.yaml", ""))
    assert after.cell.holder("nest").pose.position == pytest.approx((0.1, 0.25, 0.05))
    assert after.cell.holder("nest").places == project.cell.holder("nest").places
    others = [h for h in project.cell.holders if h.name != "nest"]
    assert [h for h in after.cell.holders if h.name != "nest"] == others
    assert replace(after, cell=project.cell) == project


def test_an_obstacle_is_moved_with_every_shape(project: Project) -> None:
    after = applied(project, Change("move obstacle", "table", (0.0, 0.0, -0.1), "cell.yaml", ""))
    (before,), (moved,) = project.cell.obstacles, after.cell.obstacles
    for a, b in zip(before.solids, moved.solids, strict=True):
        assert b.shape == a.shape
        assert np.subtract(b.pose.position, a.pose.position) == pytest.approx([0, 0, -0.1])
    assert replace(after.cell, obstacles=project.cell.obstacles) == project.cell


@pytest.mark.parametrize(
    ("target", "changed"),
    [("left_gripper", {"left_gripper"}), ("every gripper", {"left_gripper", "right_gripper"})],
)
def test_jaws_are_widened_on_one_gripper_or_on_all(project: Project, target: str, changed: set[str]) -> None:
    after = applied(project, Change("widen jaws", target, (0.085,), "cell.yaml", ""))
    for before, now in zip(project.cell.grippers, after.cell.grippers, strict=True):
        wide = replace(before, opening=(before.opening[0], 0.085))
        assert now == (wide if before.name in changed else before)


def test_longer_fingers_move_the_grip_frame_out_and_leave_the_palm_where_it_is(project: Project) -> None:
    after = applied(project, Change("lengthen fingers", "left_gripper", (0.090,), "cell.yaml", ""))
    before, now = project.cell.gripper_of("left"), after.cell.gripper_of("left")
    assert now.finger_size == (before.finger_size[0], before.finger_size[1], 0.090)
    out = now.mount.matrix[:3, 3] - before.mount.matrix[:3, 3]
    np.testing.assert_allclose(out, 0.020 * before.mount.matrix[:3, 2], atol=1e-12)
    for a, b in zip(before.palm, now.palm, strict=True):
        np.testing.assert_allclose(
            now.mount.matrix @ b.pose.matrix, before.mount.matrix @ a.pose.matrix, atol=1e-12
        )
    root = [g.mount.matrix @ [0, 0, -g.finger_size[2], 1] for g in (before, now)]
    np.testing.assert_allclose(root[0], root[1], atol=1e-12)  # where the fingers begin on the palm
    assert after.cell.gripper_of("right") == project.cell.gripper_of("right")


def test_a_need_is_dropped_and_no_other(project: Project) -> None:
    first, *others = project.product.mates
    needy = replace(first, needs=("cover-on-block", "cover-screw"))
    before = replace(project, product=replace(project.product, mates=(needy, *others)))
    after = applied(before, Change("drop need", first.name, (), "product.yaml", "", "cover-on-block"))
    assert after.product.mate(first.name).needs == ("cover-screw",)
    assert after.product.mates[1:] == project.product.mates[1:]


@pytest.mark.parametrize("kind", ["move holder", "drop need"])
def test_a_target_that_is_not_there_is_named(project: Project, kind: str) -> None:
    with pytest.raises(KeyError, match="nobody"):
        applied(project, Change(kind, "nobody", (0, 0, 0), "cell.yaml", ""))  # type: ignore[arg-type]


def offered(project: Project, cause: str, part: str = "pin", hit: tuple[str, ...] = ()) -> list[Change]:
    no = NoPlan("first-fit", "pin-in-bore", True, (CauseCount(cause, 1),))  # type: ignore[arg-type]
    return list(candidates(project, no, part, hit))


def test_each_cause_has_its_own_remedy_smallest_first(project: Project) -> None:
    jaws = offered(project, "jaw too narrow", "cover")
    assert {c.kind for c in jaws} <= {"widen jaws"}
    narrow = tuple(replace(g, opening=(0.0, 0.020)) for g in project.cell.grippers)
    shrunk = replace(project, cell=replace(project.cell, grippers=narrow))
    opened = {c.target: c.value[0] for c in offered(shrunk, "jaw too narrow", "cover")}
    assert opened["left_gripper"] == pytest.approx(
        0.055
    )  # 46 mm and 4 mm to spare on either side: the next 5 mm
    assert opened["every gripper"] == pytest.approx(0.055)
    far = offered(project, "out of reach")
    assert {c.target for c in far} == {"tray", "nest"}
    lengths = [round(float(np.linalg.norm(c.value)), 4) for c in far if c.target == "tray"]
    assert lengths == sorted(lengths)
    for c in far:
        assert c.value[2] == 0
        mid = (
            np.array([0, 0.4]) - project.cell.holder(c.target).pose.position[:2]
        )  # between the bases, 0.4 m ahead
        assert np.dot(c.value[:2], mid) > 0
    aside = offered(project, "collision at grasp", hit=("tray", "table"))
    assert {(c.kind, c.target) for c in aside if c.kind.startswith("move")} == {
        ("move holder", "tray"), ("move obstacle", "table"),
    }  # fmt: skip
    assert any(c.kind == "lengthen fingers" for c in aside)
    assert offered(project, "order contradicts itself") == []
    assert offered(project, "not held") == []


def test_every_change_says_what_is_to_be_written(project: Project) -> None:
    for c in offered(project, "out of reach"):
        now = applied(project, c).cell.holder(c.target).pose.position
        assert c.file == "cell.yaml"
        assert "position: [" + ", ".join(f"{v * 1e3:.0f} mm" for v in now) + "]" in c.text.replace(
            "-0 mm", "0 mm"
        )
