"""Where a search is cut short it says so, and never calls that a proof; a no without any cut is one."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import replace

import pytest

from handfast.checking.checked_project import CheckedProject
from handfast.model.cell import Obstacle
from handfast.model.chart import Chart
from handfast.model.no_plan import NoPlan
from handfast.model.shape import Box, Solid
from handfast.planning import plan
from handfast.planning.caps import Caps, at_most, first_leg, within
from handfast.planning.failure import Failure
from handfast.planning.leg import Leg
from handfast.planning.plan import planned
from handfast.planning.search import Found, search
from handfast.planning.sifted import Kept
from handfast.planning.stuck import Stuck
from handfast.planning.workspace import Workspace, make_workspace
from handfast.spatial.pose import Pose

from .conftest import SEED

NONE = Caps(givers=0, spots=0)  # in the example the pin goes home only by way of the other hand
BLOCKED = Failure("collision at mate", "a on b")


def mixed(ws: Workspace, pattern: str) -> Iterator[Leg | Failure]:
    """x: a failure, any other letter: a leg."""
    return (BLOCKED if c == "x" else Leg(ws.start()) for c in pattern)


def causes(results: Iterator[Leg | Failure]) -> list[str]:
    return ["leg" if isinstance(r, Leg) else r.cause for r in results]


def test_a_cut_is_told_only_where_something_was_cut_off(workspace: Workspace) -> None:
    cut, no = "not found within the cap", BLOCKED.cause
    assert causes(at_most(2, mixed(workspace, "xlxlxl"), "legs")) == [no, "leg", no, "leg", no, cut]
    assert causes(at_most(2, mixed(workspace, "xlxlxx"), "legs")) == [no, "leg", no, "leg", no, no]
    assert causes(within(2, "ab", "letters", lambda c: mixed(workspace, "x"))) == [no, no]
    assert causes(within(2, "abc", "letters", lambda c: mixed(workspace, "x"))) == [no, no, cut]
    assert causes(first_leg(mixed(workspace, "xlxl"))) == [no, "leg"]


def test_what_is_gone_through_again_is_made_once() -> None:
    made = []

    def items() -> Iterator[int]:
        for k in range(4):
            made.append(k)
            yield k

    kept = Kept(items())
    first = iter(kept)
    assert [next(first), next(first)] == [0, 1]
    assert list(kept) == [0, 1, 2, 3]
    assert [*first] == [2, 3]
    assert made == [0, 1, 2, 3]


def test_a_search_that_was_cut_short_is_not_certain_and_names_its_caps(workspace: Workspace) -> None:
    stuck = search(replace(workspace, caps=NONE), seed=SEED)
    assert isinstance(stuck, Stuck)
    assert not stuck.no.certain
    assert "0 grasps of pin by the left hand to pass it on" in stuck.no.within
    counted = {c.cause: c.count for c in stuck.no.causes}
    assert counted["not found within the cap"] == len(stuck.no.within)
    assert isinstance(search(workspace, seed=SEED), Found)


def test_nothing_to_cut_short_is_certain_whatever_the_caps(first_fit: CheckedProject) -> None:
    """No grasp of the pin passes the exact test under a wall: so it does not matter how many are tried."""
    cell = first_fit.project.cell
    wall = Obstacle("wall", (Solid(Box((0.1, 0.2, 0.01)), Pose((-0.23, 0.40, 0.09))),))
    walled = replace(first_fit.project, cell=replace(cell, obstacles=(*cell.obstacles, wall)))
    stuck = search(replace(make_workspace(walled), caps=NONE), seed=SEED)
    assert isinstance(stuck, Stuck)
    assert (stuck.no.certain, stuck.no.within) == (True, ())


@pytest.mark.slow
def test_a_search_that_ran_out_is_made_once_more_going_farther(
    first_fit: CheckedProject, chart: Chart, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Caps, "larger", lambda self: Caps())
    found = plan(first_fit, seed=SEED, caps=NONE)
    assert isinstance(found, Chart)
    assert found.mates == chart.mates


def test_a_second_search_that_does_not_end_leaves_the_answer_of_the_first(
    first_fit: CheckedProject, monkeypatch: pytest.MonkeyPatch
) -> None:
    """And that says how far the second one went."""
    monkeypatch.setattr(Caps, "larger", lambda self: self)
    module = sys.modules["handfast.planning.plan"]  # the package has a function of that name
    monkeypatch.setattr(module, "_SECOND", 3)
    monkeypatch.setattr(module, "with_change", lambda ws, stuck, seed: stuck.no)
    found = planned(first_fit, seed=SEED, caps=NONE)
    assert isinstance(found, NoPlan)
    assert not found.certain
    assert found.within[-1] == "3 tries of a second search that went farther"
    assert "0 grasps of pin by the left hand to pass it on" in found.within


def test_the_second_search_goes_farther_in_everything_but_proposals() -> None:
    caps = Caps()
    for name in ("grasps", "givers", "pairs", "branches", "meetings", "poses", "spots", "again", "regrasps"):
        assert getattr(caps.larger(), name) == 4 * getattr(caps, name)
    assert caps.larger().tree == (300, 12000)


def test_each_grasp_is_counted_once_however_often_it_is_paired(workspace: Workspace) -> None:
    """A pair of hands passes the pin from many grasps of the one to many of the other; what the other cannot
    do counts once a grasp, not once a pair."""
    from handfast.mates.grasps import grasps
    from handfast.planning.route import Route
    from handfast.planning.routes import carry

    mate = workspace.project.product.mate("pin-in-bore")
    dry = replace(workspace, dry=True, caps=Caps(pairs=0))
    failures = list(carry(dry, Leg(workspace.start()), mate, Route("handover", ("left", "right")), 0))
    assert all(isinstance(f, Failure) for f in failures)
    item = workspace.items["pin"]
    every = {
        hand: len(grasps(h.gripper, "pin", item.features, item.mass, item.friction))
        for hand, h in workspace.hands.items()
    }
    placing = [f for f in failures if isinstance(f, Failure) and f.cause == "collision at mate"]
    assert 0 < len(placing) <= every["right"]
