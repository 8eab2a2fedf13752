"""Layouts: what arms reach, what has room, and places where things stand better."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from tests.cli.test_commands import answer
from tests.planning.conftest import FIRST_FIT

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.mates.grasps import grasps
from handfast.mates.home import assembled_poses
from handfast.mates.subassemblies import built_in
from handfast.model.layout_measures import Measures
from handfast.model.project import Project
from handfast.planning.layout.arms import crews, only
from handfast.planning.layout.field import layout_map
from handfast.planning.layout.ground import Ground, poses_of
from handfast.planning.layout.measure import Bench, _all
from handfast.planning.layout.search import better_layouts, differences, put, tried
from handfast.proof.arm_model import load_arm
from handfast.spatial import se3


@pytest.fixture(scope="module")
def bench(first_fit: CheckedProject) -> Bench:
    return Bench(first_fit.project)


PROJECTS = FIRST_FIT.parent


def checked(folder: Path) -> Project:
    found = check_folder(folder)
    assert isinstance(found, CheckedProject)
    return found.project


def moved(bench: Bench, name: str, x: float, y: float) -> Project:
    """The example with one thing shifted in the plane [m]."""
    project = bench.ws.project
    return put(project, name, se3.translation(x, y, 0.0) @ poses_of(project)[name])


def test_what_is_said_to_be_reached_is_reached(bench: Bench) -> None:
    """The joint values of every grasp that counts, in the arm model of the proof (pinocchio), hold the item
    where it lies or goes."""
    project = bench.ws.project
    reached = _all(bench.ws, bench.tasks)
    looked = 0
    for (hand, mate, i), found in reached.items():
        need = next(t for t in bench.tasks if t.mate == mate).needs[i]
        model = load_arm(project.cell.arm(hand), Path(project.folder))
        item = bench.ws.items[need.item]
        held = grasps(bench.ws.hands[hand].gripper, need.item, item.features, item.mass, item.friction)
        wanted = project.cell.holder(need.holder).pose.matrix @ need.T_holder_item
        for q, grasp in zip(found.q[found.ok], np.array(held, dtype=object)[found.ok], strict=True):
            T_item = (
                (model.joint_poses(q)[-1] @ model.T_joint_tip)
                @ project.cell.gripper_of(hand).mount.matrix
                @ grasp.T_grip_part.matrix
            )
            assert np.abs(wanted - T_item).max(axis=(1, 2)).min() < 1e-6
            looked += 1
    assert looked > 50


def test_what_stands_out_of_reach_is_told(bench: Bench) -> None:
    as_it_is = bench.measure(bench.ws.project)
    assert as_it_is.undone == ()
    assert 0 < as_it_is.crowding < 1
    far = bench.measure(moved(bench, "presenter", 1.0, 0.3))
    assert far.undone == ("cover-screw",)
    assert {s for hand, holder, s in far.shares if holder == "presenter"} == {0.0}
    assert far.cost(0.005) > 1000 > as_it_is.cost(0.005)


def test_what_is_built_apart_or_turned_over_goes_where_it_stands() -> None:
    project = checked(PROJECTS / "valve-bank")
    for task in Bench(project).tasks:
        sub = built_in(project.product, task.mate)
        root = project.product.base if sub is None else sub.base
        assert task.needs[-1].holder == project.cell.place_of(root)[0].name
    turned, gripped = (checked(PROJECTS / name) for name in ("relay-frame", "hand-grip"))
    ends = {t.mate: t.needs[-1] for t in Bench(turned).tasks}
    home, upside_down = assembled_poses(turned.product), set()
    for mate in turned.product.mates:
        if mate.tool is None:
            T_holder_base = ends[mate.name].T_holder_item[0] @ se3.inverse(home[mate.part])
            upside_down.add((mate.stands or "as it lies", bool(T_holder_base[2, 2] < 0)))
    assert {down for _, down in upside_down} == {False, True}
    assert len({stands for stands, _ in upside_down}) == len(upside_down)  # each place one side up
    in_hand = {m.name for m in gripped.product.mates if m.stands is not None}
    assert in_hand
    assert all(t.needs[-1].when != "end" for t in Bench(gripped).tasks if t.mate in in_hand)
    assert Bench(gripped).measure(gripped).undone == ()
    holding = {m.stands for m in gripped.product.mates}
    alone = next(a.name for a in gripped.cell.arms if f"hand.{a.name}" not in holding)
    assert in_hand <= set(Bench(gripped).measure(only(gripped, alone)).undone)


def test_a_part_that_is_held_needs_a_second_hand(bench: Bench) -> None:
    project = bench.ws.project
    first = tried(bench, project, 0)
    found = {crew.arms: crew.found for crew in crews(bench, first, 0)}
    assert "cover-on-block" in found["left",].measures.undone
    assert "cover-on-block" in found["right",].refusal
    assert found["left", "right"] is first
    assert np.isfinite(first.cycle_s)
    (third,) = (names for names in found if len(names) == 3)
    assert not Ground(bench.ws).fits(moved(bench, "right", -0.9, 0.0))  # arms need room, too
    assert found[third].layout.cell.arms[-1].name == third[-1]


def test_things_need_room(bench: Bench) -> None:
    ground = Ground(bench.ws)
    assert ground.fits(bench.ws.project)
    assert not ground.fits(moved(bench, "tray", 0.2, 0.0))  # into the nest
    assert not ground.fits(moved(bench, "tray", -0.6, 0.0))  # over the edge of the table
    assert not ground.fits(moved(bench, "stand", 0.3, -0.4))  # out of the camera's cone, at the table's edge
    assert ground.fits(moved(bench, "tray", -0.05, 0.05))
    turned = poses_of(bench.ws.project)["nest"] @ se3.rotation(np.array([0.0, 0.0, 1.0]), np.pi / 2)
    assert ground.fits(put(bench.ws.project, "nest", turned))


def test_cost_by_hand() -> None:
    """Ten seconds of travel, a fifth of pairs in each other's way, half of the grasps, 2 mm short of 5."""
    m = Measures((), (), share=0.5, clearance=0.003, crowding=0.2, travel_s=10.0)
    assert m.cost(0.005) == pytest.approx(10 * 1.1 + 5 + 2)
    assert m.cost(0.005, 20.0) == pytest.approx(20 * 1.1 + 5 + 2)
    assert replace(m, undone=("a",), clearance=-np.inf).cost(0.005) == pytest.approx(1000 + 11 + 5 + 50)


def test_the_map_ends_where_the_arm_does(bench: Bench) -> None:
    found = layout_map(bench, bench.ws.project)
    for field in found.fields:
        hand = bench.ws.hands[field.hand]
        foot = poses_of(bench.ws.project)[field.hand][:2, 3]
        x, y = np.meshgrid(field.x, field.y)
        away = np.hypot(x - foot[0], y - foot[1])
        assert field.share[away > hand.length].max(initial=0) == 0
        assert field.share[(away > 0.35) & (away < 0.45)].mean() > 0.5
        assert field.share[away < 0.08].max() == 0  # the arm's own foot


@pytest.mark.slow
def test_a_tray_that_stands_badly_is_moved(bench: Bench) -> None:
    """Equal seeds, equal answers; what is found costs less, has room, and spares what is to stay."""
    ground = Ground(bench.ws)
    bad = tried(bench, moved(bench, "tray", 0.02, -0.13), 0)
    found, again = (
        better_layouts(bench, ground, bad, work=5, seed=3, keep=frozenset({"nest", "left", "right"}))
        for _ in range(2)
    )
    assert [c.cost for c in found] == [c.cost for c in again]
    costs = [c.cost for c in found]
    assert len(costs) > 1
    assert costs == sorted(costs, reverse=True)
    assert all(ground.fits(c.layout) for c in found[1:])
    names = {name for _, name, _ in differences(bad.layout, found[-1].layout)}
    assert names
    assert not names & {"nest", "left", "right"}


@pytest.mark.slow
def test_what_is_offered_can_be_written_planned_and_proven(tmp_path: Path) -> None:
    where = Path(shutil.copytree(FIRST_FIT, tmp_path / "p", ignore=shutil.ignore_patterns("records")))
    drawing = tmp_path / "map.svg"
    found = answer("layout", where, "--work", "6", "--seed", "1", "--keep", "left", "--keep", "right",
                   "--map", drawing, "--accept")  # fmt: skip
    assert drawing.read_text().count('class="title"') == 2
    assert found["moved"] is not None
    changed = [line for line in found["diff"].splitlines() if line.startswith("+ ")]
    assert len(changed) == len(found["changes"]) > 0
    planned = answer("plan", where, "--seed", "1")
    assert planned["planned"]
    assert planned["makespan_s"] == pytest.approx(found["moved"]["cycle_s"], abs=0.3)
    assert answer("verify", where)["holds"]
