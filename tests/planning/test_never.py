"""What never works is told at once: refutations that hold in every context, candidates counted once."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.mates.grasps import grasps
from handfast.model.cell import Obstacle
from handfast.model.no_plan import NoPlan
from handfast.model.project import Project
from handfast.model.shape import Box, Solid
from handfast.planning import explain, plan
from handfast.planning.explain import lasting, never
from handfast.planning.failure import Failure, distinct, of_candidate, tally
from handfast.planning.leg import Leg
from handfast.planning.no_hold import no_hold
from handfast.planning.pick import closed_on
from handfast.planning.realise import realise
from handfast.planning.route import Route
from handfast.planning.search import search
from handfast.planning.stuck import Stuck
from handfast.planning.unit import routes_of, units_of
from handfast.planning.workspace import Workspace, make_workspace
from handfast.spatial.pose import Pose

from .conftest import SEED

HAND_GRIP = Path(__file__).parents[2] / "projects" / "hand-grip"


def with_wall(project: Project, size: tuple[float, float, float], at: tuple[float, float, float]) -> Project:
    wall = Obstacle("wall", (Solid(Box(size), Pose(at)),))
    return replace(project, cell=replace(project.cell, obstacles=(*project.cell.obstacles, wall)))


def with_jaws(project: Project, hand: str, opening: float) -> Project:
    grippers = tuple(
        replace(g, opening=(0.0, opening)) if g.arm == hand else g for g in project.cell.grippers
    )
    return replace(project, cell=replace(project.cell, grippers=grippers))


@pytest.fixture(scope="module")
def hand_grip() -> Project:
    checked = check_folder(HAND_GRIP)
    assert isinstance(checked, CheckedProject), checked
    return checked.project


def test_a_route_under_a_wall_never_works_and_one_without_might(
    first_fit: CheckedProject, workspace: Workspace
) -> None:
    walled = make_workspace(with_wall(first_fit.project, (0.1, 0.2, 0.01), (-0.23, 0.40, 0.09)))
    units = units_of(first_fit.project.product)
    for kind, hands in (("direct", ("left",)), ("handover", ("left", "right"))):
        route = Route(kind, hands)  # type: ignore[arg-type]
        told = never(walled, Leg(walled.start()), units[0], route, units)
        assert told
        assert all(f.cause in ("collision at grasp", "out of reach") for f in told)
    free = Leg(workspace.start())
    assert never(workspace, free, units[0], Route("handover", ("left", "right")), units) == ()


def test_reasons_that_last_are_told_from_those_that_may_pass(first_fit: CheckedProject) -> None:
    """Under a wall every grasp meets what never moves, and `never` finds so too; a part in the way may go."""
    walled = make_workspace(with_wall(first_fit.project, (0.1, 0.2, 0.01), (-0.23, 0.40, 0.09)))
    units, leg = units_of(first_fit.project.product), Leg(walled.start())
    route = Route("direct", ("left",))
    found = [f for f in realise(walled, leg, units[0], route, False, SEED) if isinstance(f, Failure)]
    assert found
    assert lasting(walled, leg, units[0], units, found)
    assert never(walled, leg, units[0], route, units)
    passing = replace(found[0], cause="collision at grasp", hit="cover")
    searched = replace(found[0], cause="not found within the cap")
    elsewhere = replace(found[0], of=("bring home", "left"))
    for other in (passing, searched, elsewhere):
        assert not lasting(walled, leg, units[0], units, [*found, other])
    assert not lasting(walled, leg, units[0], units, [])


def test_each_grasp_under_a_wall_is_counted_once(first_fit: CheckedProject) -> None:
    """No hand can take the pin up: as many candidates as the two hands have grasps of it, whatever the
    routes."""
    walled = with_wall(first_fit.project, (0.1, 0.2, 0.01), (-0.23, 0.40, 0.09))
    stuck = search(make_workspace(walled), seed=SEED)
    assert isinstance(stuck, Stuck)
    part = walled.product.part("pin")
    every = [grasps(g, "pin", part.features, part.mass, part.friction) for g in walled.cell.grippers]
    assert sum(c.count for c in stuck.no.causes) == sum(map(len, every))


def test_jaws_that_hold_nothing_are_told_before_the_search(hand_grip: Project) -> None:
    ws = make_workspace(with_jaws(hand_grip, "right", 0.010))
    units = units_of(hand_grip.product)
    routes = {u.name: routes_of(u, tuple(ws.hands), False) for u in units}
    clauses, failures = no_hold(ws, units, routes)
    assert {c.unit for c in clauses if c.route == Route("direct", ("right",))} == {
        "plunger-in-handle", "cap-on-handle",
    }  # fmt: skip
    assert all(c.proven and not c.present and not c.absent for c in clauses)
    (narrow,) = failures["plunger-in-handle", Route("direct", ("right",))]
    assert (narrow.cause, round(narrow.short_by, 6)) == ("jaw too narrow", 0.002)  # 12 mm into 10 mm
    taken = {c.unit for c in clauses if c.route == Route("direct", ("left",))}
    assert taken == {u.name for u in units}  # the left hand holds the handle


@pytest.mark.slow
def test_a_no_about_what_a_hand_holds_is_certain_and_says_why(hand_grip: Project) -> None:
    """A wall over the cap's pocket: however the handle is held, nothing takes the cap up."""
    walled = with_wall(hand_grip, (0.12, 0.1, 0.01), (0.26, 0.49, 0.08))
    stuck = search(make_workspace(walled), seed=SEED)
    assert isinstance(stuck, Stuck)
    assert (stuck.no.mate, stuck.no.certain) == ("cap-on-handle", True)
    assert stuck.no.causes[0].cause == "collision at grasp"
    assert "obstacle wall" in stuck.no.causes[0].nearest


@pytest.mark.slow
def test_one_hand_of_two_is_widened_for_all_that_it_takes(hand_grip: Project) -> None:
    """The right hand takes the cap, 30 mm wide, too: jaws for the plunger alone would not do."""
    narrow = cast(CheckedProject, SimpleNamespace(project=with_jaws(hand_grip, "right", 0.010)))
    no = plan(narrow, seed=SEED)
    assert isinstance(no, NoPlan)
    assert "jaw too narrow" in {c.cause for c in no.causes}
    (change,) = no.changes
    assert (change.kind, change.target) == ("widen jaws", "right_gripper")
    assert change.value[0] > 0.030


def test_a_tool_is_in_its_stand_where_hands_are_empty(workspace: Workspace) -> None:
    item = workspace.items["driver"]
    grasp = grasps(workspace.hands["right"].gripper, "driver", item.features, item.mass, item.friction)[0]
    start = workspace.start()
    off = explain._hands_off(workspace, Leg(closed_on(start, "right", "driver", grasp)))
    assert off.state.held_by("right") is None
    np.testing.assert_allclose(workspace.pose(off.state, "driver"), workspace.pose(start, "driver"))


def test_ways_of_a_candidate_are_told_apart_and_the_candidate_is_not_counted_again() -> None:
    def looked_at() -> list[Failure]:
        return list(of_candidate([Failure("joint limit", "one"), Failure("joint limit", "two")], "pick"))

    again = [*looked_at(), *looked_at(), Failure("no grasp"), Failure("no grasp")]
    assert [f.what for f in distinct(again)] == ["one", "two", "", ""]
    assert [(c.cause, c.count) for c in tally(again)] == [("joint limit", 2), ("no grasp", 2)]
