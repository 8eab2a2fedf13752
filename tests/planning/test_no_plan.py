"""A no: the right cause with its numbers, and a change that, once made, gives a plan."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import cast

import pytest

from handfast.checking.checked_project import CheckedProject
from handfast.model.cell import Obstacle
from handfast.model.change import Change
from handfast.model.chart import Chart
from handfast.model.no_plan import CauseCount, NoPlan
from handfast.model.project import Project
from handfast.model.shape import Box, Solid
from handfast.planning import plan
from handfast.planning.change import applied, candidates
from handfast.planning.shut_in import shut_in
from handfast.planning.unit import routes_of, units_of
from handfast.planning.workspace import Workspace
from handfast.spatial.pose import Pose

from .conftest import SEED, certified


def asked(project: Project) -> CheckedProject:
    """Straight to the planner, for what the checks would refuse on sight."""
    return cast(CheckedProject, SimpleNamespace(project=project))


def refused(checked: CheckedProject) -> NoPlan:
    no = plan(checked, seed=SEED)
    assert isinstance(no, NoPlan), "planned all the same"
    assert [c.count for c in no.causes] == sorted((c.count for c in no.causes), reverse=True)
    return no


def mended(project: Project, no: NoPlan) -> Change:
    """The change that is offered: it is made here, and the project then has a plan with every mate."""
    assert len(no.changes) == 1
    change = no.changes[0]
    assert no.change == f"{change.file}: {change.text}"
    after = plan(certified(applied(project, change)), seed=SEED)
    assert isinstance(after, Chart), after
    assert set(after.mates) == {m.name for m in project.product.mates}
    return change


def with_jaws(project: Project, **widest: float) -> Project:
    grippers = tuple(replace(g, opening=(0.0, widest[g.arm])) for g in project.cell.grippers)
    return replace(project, cell=replace(project.cell, grippers=grippers))


@pytest.mark.slow
def test_jaws_that_are_too_narrow(first_fit: CheckedProject) -> None:
    """The cover is 46 mm wide between its sides; jaws that open 20 mm lack 26 mm."""
    project = with_jaws(first_fit.project, left=0.020, right=0.020)
    no = refused(asked(project))
    assert (no.mate, no.certain) == ("cover-on-block", True)
    assert no.causes[0].cause == "jaw too narrow"
    assert "cover is 46.0 mm wide" in no.causes[0].nearest
    assert "opens 20.0 mm, short by 26.0 mm" in no.causes[0].nearest
    change = mended(project, no)
    assert change.kind == "widen jaws"
    assert 0.046 < change.value[0] <= 0.056


@pytest.mark.slow
def test_one_hand_too_narrow_for_its_share(first_fit: CheckedProject) -> None:
    """Either hand could hold the cover if it opened 46 mm, but the other then has the driver, 30 mm wide, to
    take."""
    project = with_jaws(first_fit.project, left=0.020, right=0.070)
    no = refused(certified(project))
    assert "jaw too narrow" in {c.cause for c in no.causes}
    change = mended(project, no)
    assert (change.kind, change.target) == ("widen jaws", "left_gripper")


@pytest.mark.slow
def test_a_nest_out_of_reach(first_fit: CheckedProject) -> None:
    """0.75 m farther away: 1.2 m from the bases' line, 1.3 m from either base, past the arms' 0.85 m."""
    project = applied(first_fit.project, Change("move holder", "nest", (0.0, 0.75, 0.0), "", ""))
    no = refused(certified(project))
    assert (no.mate, no.certain) == ("pin-in-bore", True)
    assert no.causes[0].cause == "out of reach"
    assert "short by" in no.causes[0].nearest
    change = mended(project, no)
    assert (change.kind, change.target) == ("move holder", "nest")
    assert change.value[1] < -0.2


@pytest.mark.slow
def test_a_wall_over_a_pocket_of_the_tray(first_fit: CheckedProject) -> None:
    cell = first_fit.project.cell
    wall = Obstacle("wall", (Solid(Box((0.1, 0.2, 0.01)), Pose((-0.23, 0.40, 0.09))),))
    project = replace(first_fit.project, cell=replace(cell, obstacles=(*cell.obstacles, wall)))
    no = refused(certified(project))
    assert (no.mate, no.certain) == ("pin-in-bore", True)
    assert no.causes[0].cause == "collision at grasp"
    assert "obstacle wall" in no.causes[0].nearest
    mended(project, no)


def ring(project: Project) -> Project:
    """The pin not before the cover, which goes over the pin."""
    pin, *others = project.product.mates
    mates = (replace(pin, needs=("cover-on-block",)), *others)
    return replace(project, product=replace(project.product, order_given=False, mates=mates))


@pytest.mark.slow
def test_mates_that_need_each_other_first(first_fit: CheckedProject) -> None:
    project = ring(first_fit.project)
    no = refused(asked(project))
    assert [c.cause for c in no.causes] == ["order contradicts itself"]
    assert no.certain
    change = mended(project, no)
    assert (change.kind, change.target, change.what) == ("drop need", "pin-in-bore", "cover-on-block")
    assert plan(asked(project), seed=SEED) == no  # and a no is repeatable


def with_one_arm(project: Project) -> Project:
    """Without the right arm, its gripper, its sensor, and the errors of them."""
    cell = project.cell
    alone = replace(
        cell,
        arms=tuple(a for a in cell.arms if a.name == "left"),
        grippers=tuple(g for g in cell.grippers if g.arm == "left"),
        force_sensors=tuple(s for s in cell.force_sensors if s.arm == "left"),
    )
    return replace(project, cell=alone, errors=tuple(s for s in project.errors if "right" not in s.acts_on))


@pytest.mark.slow
def test_one_hand_cannot_hold_the_cover_and_drive_its_screw(first_fit: CheckedProject) -> None:
    project = with_one_arm(first_fit.project)
    no = refused(certified(project))
    assert (no.mate, no.certain) == ("cover-on-block", True)
    assert [c.cause for c in no.causes] == ["hand is taken"]
    assert "cover has to be held until cover-screw" in no.causes[0].nearest
    change = mended(project, no)
    assert (change.kind, change.target) == ("add arm", "left")


def test_what_retains_the_part_is_offered_too(first_fit: CheckedProject) -> None:
    project = with_one_arm(first_fit.project)
    no = NoPlan("first-fit", "cover-on-block", True, (CauseCount("hand is taken", 1),))
    offered = list(candidates(project, no, "cover", ()))
    assert {c.kind for c in offered} == {"add arm", "drop hold"}
    held = next(c for c in offered if c.kind == "drop hold")
    assert applied(project, held).product.mate("cover-on-block").held_until is None
    for c in offered:
        if c.kind == "add arm":  # the new base looks at the nest as the old one does, or the same way
            arm, like = applied(project, c).cell.arms[-1], project.cell.arm("left")
            assert (arm.name, arm.urdf, arm.home) == ("right", like.urdf, like.home)
            assert arm.base.position == pytest.approx(c.value[:3])
    two = list(candidates(first_fit.project, no, "cover", ()))
    assert {c.kind for c in two} == {"drop hold"}


def sunk(project: Project, depth: float) -> Project:
    """Both arms let into the table."""
    arms = tuple(
        replace(a, base=replace(a.base, position=(*a.base.position[:2], -depth))) for a in project.cell.arms
    )
    return replace(project, cell=replace(project.cell, arms=arms))


@pytest.mark.slow
def test_arms_that_stand_too_low_on_the_table(first_fit: CheckedProject) -> None:
    """Let in by 200 mm their shoulders are under the table top: no way begins there."""
    project = sunk(first_fit.project, 0.2)
    no = refused(asked(project))
    assert (no.mate, no.certain) == ("pin-in-bore", True)
    assert [c.cause for c in no.causes] == ["collision on the way"]
    assert "arm at home, on obstacle table" in no.causes[0].nearest
    assert no.changes[0].kind == "move arm"
    after = plan(asked(applied(project, no.changes[0])), seed=SEED)
    assert isinstance(after, Chart)


def test_arms_that_stand_free_are_not_shut_in(workspace: Workspace) -> None:
    units = units_of(workspace.project.product)
    routes = {u.name: routes_of(u, tuple(workspace.hands), True) for u in units}
    assert shut_in(workspace, units, routes) == ([], {})
