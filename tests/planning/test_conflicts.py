"""Many units that keep each other out: what a failure tells besides the first reason found, and whether it
still holds once the cell is changed."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from measured import many_parts
from tests.planning.test_explain import ROUTE, standing, unit

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.planning import explain as module
from handfast.planning.clause import Clause
from handfast.planning.conflicts import holds_in, more_causes
from handfast.planning.explain import explain
from handfast.planning.failure import Failure
from handfast.planning.leg import Leg
from handfast.planning.route import Route
from handfast.planning.unit import Unit, units_of
from handfast.planning.workspace import Workspace, make_workspace

NAMES = tuple(f"u{k:02}" for k in range(30))


class PlantedSets:
    """Geometry that fails while all the parts of any one of these sets are there."""

    def __init__(self, sets: list[frozenset[str]]) -> None:
        self.sets, self.asked = sets, 0

    def realise(
        self, ws: Workspace, leg: Leg, unit: Unit, route: Route, keep: bool, seed: int
    ) -> Iterator[Leg | Failure]:
        self.asked += 1
        there = {a.item.removeprefix("part ") for a in leg.state.scene.attachments}
        if any(names <= there for names in self.sets):
            yield Failure("collision at mate", "somewhere")
        else:
            yield leg


@pytest.mark.parametrize("seed", range(30))
def test_each_further_clause_is_a_least_reason_and_every_other_that_is_easily_met_is_found(
    seed: int, workspace: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    rng = np.random.default_rng(seed)
    units = tuple(unit(n) for n in NAMES)
    drawn = [frozenset(map(str, rng.choice(NAMES[1:], rng.integers(1, 4), replace=False))) for _ in range(3)]
    sets = [s for s in drawn if not any(t < s for t in drawn)]
    done = frozenset(n for n in NAMES[1:] if rng.random() < 0.5)
    planted = PlantedSets(sets)
    monkeypatch.setattr(module, "realise", planted.realise)
    leg = standing(workspace, units, done)
    first, _ = explain(workspace, leg, units[0], ROUTE, done, units)
    more = list(more_causes(workspace, leg, units[0], first, done, units))
    found = [c.present | c.absent for c in (first, *more)]
    assert len(set(found)) == len(found)
    assert set(found) <= set(sets)
    assert all(
        c == Clause("u00", ROUTE, m & done, True, m - done)
        for c, m in zip((first, *more), found, strict=True)
    )
    for name in found[0]:  # without this one it still fails where another reason does not need it
        others = [s for s in sets if name not in s]
        assert not others or any(m in others for m in found[1:])


@pytest.mark.parametrize("seed", range(20))
def test_many_units_are_not_taken_away_one_by_one(
    seed: int, workspace: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    rng = np.random.default_rng(seed)
    units = tuple(unit(n) for n in NAMES)
    two = frozenset(map(str, rng.choice(NAMES[1:], 2, replace=False)))
    planted = PlantedSets([two])
    monkeypatch.setattr(module, "realise", planted.realise)
    leg = standing(workspace, units, frozenset())
    clause, _ = explain(workspace, leg, units[0], ROUTE, frozenset(), units)
    assert clause == Clause("u00", ROUTE, frozenset(), True, two)
    assert planted.asked <= 25  # of 32 times


def pins(folder: Path, pitch: float) -> Workspace:
    """19 pins in two trays, in a row of eight and one of two, so many millimetres apart."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(many_parts, "PITCH", pitch)
        checked = check_folder(many_parts.write_many(folder, 20, seed=1))
    assert isinstance(checked, CheckedProject)
    return make_workspace(checked.project)


def test_a_clause_holds_where_it_was_learned_and_not_where_there_is_room(tmp_path: Path) -> None:
    """The pin in the corner of its tray has one neighbour along it and one across: at 14 mm fingers of 7 mm
    that open by 2 mm fit beside neither, so one has to go first; at 26 mm there is room."""
    near, far = pins(tmp_path / "near", 14.0), pins(tmp_path / "far", 26.0)
    units, route = units_of(near.project.product), Route("direct", ("left",))
    clause, _ = explain(near, Leg(near.start()), units[0], route, frozenset(), units)
    assert clause == Clause("pin-0", route, frozenset(), True, frozenset({"pin-2", "pin-16"}))
    assert holds_in(near, clause, units)
    assert not holds_in(far, clause, units)
    for neighbour in ("pin-2", "pin-16"):
        assert not holds_in(near, Clause("pin-0", route, frozenset(), True, frozenset({neighbour})), units)
