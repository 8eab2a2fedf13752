"""Why a route fails: on planted cases, where what matters is known, the clause names that and nothing
else."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from handfast.checking.checked_project import CheckedProject
from handfast.model.cell import Obstacle
from handfast.model.mate import FeaturePair, Mate
from handfast.model.no_plan import CauseCount
from handfast.model.scene import Attachment
from handfast.model.shape import Box, Solid
from handfast.planning import explain as module
from handfast.planning.clause import Clause
from handfast.planning.explain import explain, works_alone
from handfast.planning.failure import Failure, tally
from handfast.planning.leg import Leg
from handfast.planning.route import Route
from handfast.planning.state import State
from handfast.planning.unit import Unit, units_of
from handfast.planning.workspace import Workspace, make_workspace
from handfast.spatial.pose import Pose

NAMES = ("a", "b", "c", "d", "e", "f")
ROUTE = Route("direct", ("left",))


def unit(name: str, into: str = "block", **more: object) -> Unit:
    mate = Mate(name, "insert", f"part {name}", into, (FeaturePair("x", into, "y"),), **more)  # type: ignore[arg-type]
    return Unit(name, (mate,))


def standing(ws: Workspace, units: tuple[Unit, ...], done: frozenset[str]) -> Leg:
    """Every part at its start, those of done units on the block."""
    state = ws.start()
    for u in units:
        parent = "part.block" if u.name in done else "place.tray.cover"
        scene = state.scene.moved(Attachment(u.parts[0], parent, Pose((0.0, 0.0, 1.0))))
        state = replace(state, scene=scene)
    return Leg(state)


class Planted:
    """Geometry that fails while all the parts named are there."""

    def __init__(self, blocking: frozenset[str], cause: str = "collision at mate") -> None:
        self.blocking, self.cause, self.asked = blocking, cause, 0

    def realise(
        self, ws: Workspace, leg: Leg, unit: Unit, route: Route, keep: bool, seed: int
    ) -> Iterator[Leg | Failure]:
        self.asked += 1
        there = {a.item for a in leg.state.scene.attachments}
        if {f"part {name}" for name in self.blocking} <= there and self.stands(leg.state):
            yield Failure(self.cause, f"{unit.name} by {route}")  # type: ignore[arg-type]
        else:
            yield leg

    def stands(self, state: State) -> bool:
        """Whether the hands stand so that it fails."""
        return True


@pytest.mark.parametrize("seed", range(40))
def test_the_clause_names_exactly_what_matters(
    seed: int, workspace: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    rng = np.random.default_rng(seed)
    units = tuple(unit(n) for n in NAMES)
    others = NAMES[1:]
    done = frozenset(n for n in others if rng.random() < 0.5)
    blocking = frozenset(n for n in others if rng.random() < 0.4)
    planted = Planted(blocking)
    monkeypatch.setattr(module, "realise", planted.realise)
    clause, failures = explain(workspace, standing(workspace, units, done), units[0], ROUTE, done, units)
    assert clause == Clause("a", ROUTE, blocking & done, True, blocking - done)
    assert failures
    assert {f.cause for f in failures} == {"collision at mate"}
    assert planted.asked <= 5 + len(others)


def test_what_is_built_on_a_part_goes_with_it(workspace: Workspace, monkeypatch: pytest.MonkeyPatch) -> None:
    """c stands on b: it cannot be there without b, so if c matters, b is in the clause too."""
    units = (unit("a"), unit("b"), unit("c", "part b"), unit("d"))
    monkeypatch.setattr(module, "realise", Planted(frozenset("c")).realise)
    done = frozenset("bcd")
    clause, _ = explain(workspace, standing(workspace, units, done), units[0], ROUTE, done, units)
    assert clause == Clause("a", ROUTE, frozenset("bc"), True)


def test_what_the_unit_itself_needs_is_never_taken_away(
    workspace: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    """a goes onto b: that b is in the way is no matter of order, the route does not work at all."""
    units = (unit("a", "part b"), unit("b"), unit("c"))
    monkeypatch.setattr(module, "realise", Planted(frozenset("b")).realise)
    done = frozenset("bc")
    clause, _ = explain(workspace, standing(workspace, units, done), units[0], ROUTE, done, units)
    assert clause == Clause("a", ROUTE, frozenset(), True)


def test_a_path_that_was_not_found_proves_nothing(
    workspace: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With free paths taken for granted the route works: the clause covers this context only."""
    units = tuple(unit(n) for n in NAMES)
    monkeypatch.setattr(module, "realise", Planted(frozenset({"nobody"})).realise)
    done = frozenset("bc")
    clause, _ = explain(workspace, standing(workspace, units, done), units[0], ROUTE, done, units)
    assert clause == Clause("a", ROUTE, done, False, frozenset("def"))


def test_a_cap_that_was_reached_proves_nothing(workspace: Workspace, monkeypatch: pytest.MonkeyPatch) -> None:
    units = tuple(unit(n) for n in NAMES)
    done = frozenset("bc")
    for blocking in (frozenset(), frozenset("bd")):
        monkeypatch.setattr(module, "realise", Planted(blocking, "not found within the cap").realise)
        clause, _ = explain(workspace, standing(workspace, units, done), units[0], ROUTE, done, units)
        assert clause == Clause("a", ROUTE, blocking & done, False, blocking - done)


def test_where_an_idle_hand_stands_is_no_matter_of_the_route(
    workspace: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    class InTheWay(Planted):
        def stands(self, state: State) -> bool:
            return not np.allclose(state.q["right"], workspace.hands["right"].chain.home)

    units = tuple(unit(n) for n in NAMES)
    monkeypatch.setattr(module, "realise", InTheWay(frozenset("b")).realise)
    done = frozenset("b")
    leg = standing(workspace, units, done)
    moved = Leg(leg.state.moved("right", workspace.hands["right"].chain.home + 0.3))
    clause, _ = explain(workspace, moved, units[0], ROUTE, done, units)
    assert clause == Clause("a", ROUTE, done, False, frozenset("cdef"))


def test_a_hand_that_holds_is_to_blame_not_the_route(
    workspace: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The cover of the example held by the left hand: nothing else in the way, and nothing proven."""

    class Holding(Planted):
        def stands(self, state: State) -> bool:
            return state.held_by("left") is not None

    product = workspace.project.product
    units = units_of(product)
    pin, cover, screw = units
    state = workspace.start()
    state = state.attached("pin", "part.block", np.eye(4)).attached("cover", "hand.left", np.eye(4))
    monkeypatch.setattr(module, "realise", Holding(frozenset()).realise)
    done = frozenset({pin.name, cover.name})
    clause, _ = explain(workspace, Leg(state), screw, Route("tool", ("right",)), done, units)
    assert clause == Clause(screw.name, Route("tool", ("right",)), frozenset({cover.name}), False)


def test_units_work_alone_until_something_fixed_is_in_their_way(
    first_fit: CheckedProject, workspace: Workspace
) -> None:
    units = units_of(first_fit.project.product)
    assert all(works_alone(workspace, u, units) for u in units)
    cell = first_fit.project.cell
    lid = Obstacle(
        "lid", (Solid(Box((0.1, 0.2, 0.01)), Pose((-0.23, 0.40, 0.09))),)
    )  # over both pockets of the tray
    walled = make_workspace(replace(first_fit.project, cell=replace(cell, obstacles=(*cell.obstacles, lid))))
    assert [works_alone(walled, u, units) for u in units] == [False, False, True]


def test_failures_are_counted_by_cause_with_the_nearest_miss_of_the_usual_obstacle() -> None:
    failures = [
        Failure("out of reach", "left hand to pin", 0.144),
        Failure("collision at grasp", "far", 0.020, "wall"),
        Failure("collision at grasp", "near", 0.0012, "wall"),
        Failure("collision at grasp", "nearer, but only once", 0.0001, "tray"),
        Failure("no grasp", "none"),
    ]
    assert tally(failures) == (
        CauseCount("collision at grasp", 3, "near, short by 1.2 mm"),
        CauseCount("out of reach", 1, "left hand to pin, short by 144.0 mm"),
        CauseCount("no grasp", 1, "none"),
    )
    assert tally([]) == ()
