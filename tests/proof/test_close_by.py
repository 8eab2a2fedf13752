"""What one motion says of another that lies close to it, held against distances at many instants."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.execution.test_moved import BORE, between
from tests.trials.bench_chart import bench_chart, bench_project

from handfast.execution.rehearsal import ready_at
from handfast.kinematics.chain import load_chain
from handfast.model.chart import Chart
from handfast.model.motion import Motion
from handfast.model.project import Project
from handfast.motion.correct import corrected
from handfast.proof.bodies import CellBodies, load_bodies
from handfast.proof.certify import certify
from handfast.proof.close_by import FAR, NEAR, displacement, gaps
from handfast.proof.exact import distance
from handfast.proof.joint_path import joint_path
from handfast.proof.moved_motion import Surroundings, surroundings, would_meet
from handfast.proof.pieces_table import PieceTable, only, piece_table
from handfast.proof.scan import Scan, placed
from handfast.proof.standing import Carrier, Hold, Standing, carrier_of
from handfast.proof.stl import Array
from handfast.proof.stretch import Nodes, Stretch, look, movers
from handfast.proof.tally import Tally
from handfast.spatial import se3

NUMBER = 7  # the element that leads the pin to above its bore


@pytest.fixture(scope="module")
def bench() -> tuple[Project, Chart]:
    project = bench_project()
    return project, bench_chart(project)


def standing(project: Project, chart: Chart) -> Standing:
    ready = ready_at(project, chart, NUMBER)
    parents = {a.item: (a.parent, a.pose.matrix) for a in ready.scene.attachments}
    holds = {arm: Hold(item, parents[item][1], 2) for arm, item in ready.holding.items()}
    return Standing(parents, {a: np.array(q) for a, q in ready.q.items()}, dict(ready.widths), holds)


def led(project: Project, chart: Chart, *twist: float) -> Motion:
    chain = load_chain(project.cell.arm("right"), project.folder)
    return corrected(chain, chart.elements[NUMBER - 1].motions[0], se3.exp(np.array(twist)))


def stretch_of(project: Project, cell: CellBodies, there: Standing, motion: Motion, seen: Array) -> Stretch:
    """seen: by how much the pin is elsewhere in the hand (4, 4)."""
    carriers = {b.name: Carrier("", np.eye(4)) for b in cell.bodies if b.kind == "item"}
    carriers |= {item: carrier_of(project, cell, there, item) for item in there.parents}
    carriers["pin"] = Carrier(carriers["pin"].arm, carriers["pin"].T_carrier_item @ seen)
    jaws = {
        arm: (width + abs(float(seen[0, 3])), width + abs(float(seen[0, 3])))
        for arm, width in there.widths.items()
    }
    path = {motion.arm: (0.0, joint_path(motion))}
    return Stretch(0.0, motion.duration, path, there.q, jaws, carriers, {motion.arm: NUMBER})


def at(cell: CellBodies, table: PieceTable, stretch: Stretch, shares: Array) -> Nodes:
    return look(cell, table, stretch, shares, np.zeros(len(shares)))


def test_joint_poses_of_many_are_those_of_each_by_pinocchio(bench: tuple[Project, Chart]) -> None:
    rng = np.random.default_rng(1)
    for arm in load_bodies(bench[0]).arms.values():
        q = rng.uniform(-3, 3, (50, arm.joints))
        np.testing.assert_allclose(arm.joint_poses_along(q), [arm.joint_poses(row) for row in q], atol=1e-12)


@pytest.mark.parametrize("seed", range(6))
def test_no_point_is_further_away_than_was_said(bench: tuple[Project, Chart], seed: int) -> None:
    """Corners of the box around each piece, at 200 instants; times correspond in proportion to the knots."""
    project, chart = bench
    rng = np.random.default_rng(seed)
    cell = load_bodies(project)
    table, there = piece_table(cell), standing(project, chart)
    twists = rng.normal(size=(2, 6)) * 2e-3
    moved = there.at("left", there.q["left"] + rng.normal(size=6) * 1e-3)
    motions = [led(project, chart, *twist) for twist in twists]
    before = stretch_of(project, cell, there, motions[0], np.eye(4))
    now = stretch_of(project, cell, moved, motions[1], se3.exp(rng.normal(size=6) * 1e-3))
    said = displacement(cell, table, before, now)
    paths = [s.paths["right"][1] for s in (before, now)]
    same = len(paths[0].t) == len(paths[1].t)
    knots = [p.t / p.t[-1] for p in paths] if same else [np.array([0.0, 1.0])] * 2
    along = np.linspace(0, len(knots[0]) - 1, 200)
    shares = [np.interp(along, np.arange(len(k)), k) for k in knots]
    corners = np.array([np.array(np.meshgrid(*[(-1, 1)] * 3)).reshape(3, 8).T * half for half in table.half])
    nodes = [at(cell, table, s, share) for s, share in zip((before, now), shares, strict=True)]
    points = [n.centre[:, :, None] + np.einsum("ipab,pkb->ipka", n.axes, corners) for n in nodes]
    apart = np.linalg.norm(points[1] - points[0], axis=-1).max(axis=(0, 2))
    assert (apart <= said + 1e-9).all()
    hands = [
        i for i, b in enumerate(table.body) if cell.bodies[b].arm == "right" and cell.bodies[b].joint > 0
    ]
    assert (apart[hands] > 0.05 * said[hands]).all()  # not said by a bound that says nothing


def test_motions_of_other_things_cannot_be_compared(bench: tuple[Project, Chart]) -> None:
    project, chart = bench
    cell = load_bodies(project)
    table, there = piece_table(cell), standing(project, chart)
    now = stretch_of(project, cell, there, led(project, chart, 0, 0, 0, 0, 0, 0), np.eye(4))
    elsewhere = replace(now, carriers={**now.carriers, "pin": Carrier("", np.eye(4))})
    opening = replace(now, jaws={**now.jaws, "right": (0.01, 0.02)})
    assert np.isfinite(displacement(cell, table, now, now)).all()
    for other in (elsewhere, opening):
        assert np.isinf(displacement(cell, table, now, other)).all()
        assert np.isinf(displacement(cell, table, other, now)).all()


def test_gaps_are_those_of_exact_distances(bench: tuple[Project, Chart]) -> None:
    """Never more than the least of many instants; less by a quarter of it or half a millimetre at most."""
    project, chart = bench
    near = between(project, BORE, 0.004)
    cell = load_bodies(near)
    table, there = piece_table(cell), standing(project, chart)
    stretch = stretch_of(near, cell, there, led(project, chart, 1e-3, 0, 0, 0, 0, 0), np.eye(4))
    arm_of, joint_of = movers(cell, table, stretch)
    moves = np.array([arm == "right" and joint > 0 for arm, joint in zip(arm_of, joint_of, strict=True)])
    table = only(table, moves[table.first] != moves[table.second])
    found = gaps(cell, table, stretch, np.zeros(len(table.first)))
    nodes = at(cell, table, stretch, np.linspace(0, 1, 300))
    scan = Scan(cell, table, stretch, {}, 0, Tally(), *movers(cell, table, stretch))
    close = np.flatnonzero(found < FAR)
    assert len(close) > 5
    told = 0
    for pair in range(len(found)):
        if pair not in close and pair % 20:
            continue
        least = min(distance(*placed(scan, nodes, row, int(pair))) for row in range(0, 300, 3))
        assert found[pair] <= max(least, 0.0) + 1e-6
        if least < FAR:
            told += 1
            assert found[pair] >= min(0.75 * least, least - NEAR) - 1e-5
    assert told > 5


@pytest.mark.parametrize(("aside", "meets"), [(0.9e-3, None), (1.1e-3, ("right.palm", "right post"))])
def test_after_others_a_motion_is_judged_as_if_it_were_the_first(
    bench: tuple[Project, Chart], aside: float, meets: tuple[str, str] | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Posts 1 mm beside the palm; of the pairs few are left to look at once two motions have been."""
    project, chart = bench
    around, there = surroundings(between(project, BORE, 1e-3)), standing(project, chart)
    asked: list[int] = []

    def counted(cell: CellBodies, table: PieceTable, *rest: object) -> None:
        asked.append(len(table.first))
        certify(cell, table, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr("handfast.proof.moved_motion.certify", counted)

    def met(around: Surroundings, off: float) -> tuple[str, str] | None:
        motion, element = led(project, chart, 0, off, 0, 0, 0, 0), chart.elements[NUMBER - 1]
        found = would_meet(around, there, element, motion, beside_held={"block"})
        return None if found is None else (found.a, found.b)

    assert [met(around, off) for off in (0.0, 0.2e-3)] == [None, None]
    assert met(around, aside) == meets
    assert met(surroundings(around.project), aside) == meets
    assert asked[2] < 0.2 * asked[0]
    assert asked[3] == asked[0]
