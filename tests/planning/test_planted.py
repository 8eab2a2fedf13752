"""Cells whose answer is known before anything is planned: one of every kind. `make verify` does all 200."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.planning.generated.certificates import CERTIFICATES
from tests.planning.generated.families import FAMILIES
from tests.planning.generated.folder import write_folder
from tests.planning.generated.planted import certified, listed, read
from tests.planning.generated.recipe import Wall
from tests.planning.generated.verdict import judge

CELLS = listed()
FIRST = {cell.why: cell for cell in reversed(CELLS)}


def test_there_are_two_hundred_cells_of_every_kind() -> None:
    assert len(CELLS) == 200
    assert {cell.why for cell in CELLS if cell.feasible} == set(FAMILIES)
    assert {cell.why for cell in CELLS if not cell.feasible} == set(CERTIFICATES)
    assert sum(cell.feasible for cell in CELLS) == 120


@pytest.mark.parametrize("family", ["pegs, two arms", "held plate", "far apart", "regrasp"])
def test_the_known_plan_holds_before_the_proof(family: str, tmp_path: Path) -> None:
    recipe, project = FIRST[family].write(tmp_path)
    assert certified(project, recipe)


def test_a_spoilt_known_plan_does_not_hold(tmp_path: Path) -> None:
    """The certificate can fail: with a wall across the way the same plan is refused."""
    recipe = FIRST["far apart"].recipe()
    recipe.walls.append(Wall("across", 0.0, 430.0, (12.0, 400.0, 300.0)))
    assert not certified(read(write_folder(recipe, tmp_path)), recipe)


@pytest.mark.parametrize("why", [*FAMILIES, *CERTIFICATES])
def test_the_search_is_right(why: str, tmp_path: Path) -> None:
    verdict = judge(FIRST[why], tmp_path)
    assert verdict.answer == "right", verdict.text


@pytest.mark.parametrize("number", [52, 92])
def test_an_idle_hand_in_the_way_is_sent_home_before_a_route_is_given_up(number: int, tmp_path: Path) -> None:
    """After the plate the other hand stood over the hole, and the peg was given up also before the plate."""
    cell = next(c for c in CELLS if c.feasible and c.seed == number)
    assert cell.why == "under a plate"
    verdict = judge(cell, tmp_path, prove=False)
    assert verdict.answer == "right", verdict.text
