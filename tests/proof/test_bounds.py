"""The motion bounds are bounds: points of every piece, followed through random motions, never move
further."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from tests.proof.chart_by_hand import first_fit
from tests.proof.travel_by_numpy import travel_bounds

from handfast.proof import _compiled
from handfast.proof.bodies import CellBodies, load_bodies
from handfast.proof.bounds import may_meet, near
from handfast.proof.corridor import PoseOf
from handfast.proof.exact import distance
from handfast.proof.joint_path import JointPath
from handfast.proof.pieces_table import PieceTable, piece_table
from handfast.proof.scan import Scan
from handfast.proof.slide import slide_of
from handfast.proof.standing import Carrier
from handfast.proof.stretch import Nodes, Stretch, look, movers
from handfast.proof.tally import Tally
from handfast.spatial.se3 import Array

ROWS = 40


@pytest.mark.parametrize("seed", range(8))
def test_no_point_moves_further_than_the_bound(seed: int) -> None:
    rng = np.random.default_rng(seed)
    project = first_fit()
    cell = load_bodies(project)
    table = piece_table(cell)
    h = 0.02 if seed % 2 else 0.3
    path = _path(rng, h, 1 if seed < 4 else 5)
    T_hand_item = np.eye(4)
    T_hand_item[:3, 3] = rng.uniform(-0.1, 0.1, 3)
    carriers = {body.name: Carrier("", np.eye(4)) for body in cell.bodies if body.kind == "item"}
    carriers["driver"] = Carrier("right", T_hand_item)
    still = {arm.name: np.array(arm.home) for arm in project.cell.arms}
    jaws = dict.fromkeys(cell.arms, (0.05, 0.05))
    stretch = Stretch(0.0, h, {"right": (0.0, path)}, still, jaws, carriers, {})
    whole = look(cell, table, stretch, np.array([0.5]), np.array([0.5]))
    along = look(cell, table, stretch, np.linspace(0, 1, ROWS), np.zeros(ROWS))
    arm_of, joint_of = movers(cell, table, stretch)
    assert whole.travel.max() > 0.01  # something does move
    tightest = np.inf
    for piece in range(len(table.pieces)):
        points = table.centre[piece] + table.radius[piece] * _directions(rng)
        before = _placed(whole, table.body[piece], points)[0]
        after = _placed(along, table.body[piece], points)
        moved = np.linalg.norm(after - before, axis=-1).max()
        assert moved <= whole.travel[0, piece] + 1e-9
        turned = _angles(along.body[:, table.body[piece]], whole.body[0, table.body[piece]]).max()
        assert turned <= whole.turn[0, piece] + 1e-7
        if moved > 0:
            _check_slide(cell, table, stretch, whole, piece, after - before)
            tightest = min(tightest, whole.travel[0, piece] / moved)
        if arm_of[piece] == "right":
            _check_tail(
                cell, whole, along, table.body[piece], points, int(joint_of[piece]), whole.tail[0, piece]
            )
    _check_left_out(table, whole, along)
    _check_near(table, along)
    assert tightest < (1.5 if seed % 2 else 10)  # a bound that is no use would pass the rest too


def _path(rng: np.random.Generator, h: float, segments: int) -> JointPath:
    """Some seconds h of motion, with knots inside."""
    t = np.concatenate([[0.0], np.sort(rng.uniform(0, h, segments - 1)), [h]])
    v = rng.normal(0, 2, (segments + 1, 6))
    steps = (v[1:] + v[:-1]) / 2 * np.diff(t)[:, None]
    q = rng.uniform(-1.5, 1.5, 6) + np.concatenate([np.zeros((1, 6)), np.cumsum(steps, axis=0)])
    return JointPath(t, q, v)


@dataclass(frozen=True)
class Ahead:
    """A line in some direction."""

    direction: Array

    def axis(self, pose_of: PoseOf) -> Array:
        return self.direction

    @property
    def mover(self) -> str:
        return ""

    def home(self, pose_of: PoseOf) -> float:
        return 0.0

    def relief(self, pose_of: PoseOf, reach: float, turn: float, along: float | None = None) -> Array | None:
        return None


def _check_slide(
    cell: CellBodies, table: PieceTable, stretch: Stretch, whole: Nodes, piece: int, steps: Array
) -> None:
    """Every point is within `beside` of its own way along the line, whichever line that is."""
    fixed = table.body == cell.index["block"]
    pair = next(
        i
        for i, two in enumerate(zip(table.first, table.second, strict=True))
        if piece in two and fixed[[*two]].any()
    )
    scan = Scan(cell, table, stretch, {}, 0, Tally(), *movers(cell, table, stretch))
    mean = steps[-1].mean(axis=0)
    for direction in (mean / np.linalg.norm(mean), np.array([0.0, 0.0, 1.0])):
        slide = slide_of(scan, whole, 0, pair, Ahead(direction))
        assert slide is not None
        ahead = np.clip(steps @ direction, slide.middle - slide.half, slide.middle + slide.half)
        off = np.linalg.norm(steps - ahead[..., None] * direction, axis=-1)
        assert off.max() <= slide.beside + 1e-9


def _check_left_out(table: PieceTable, whole: Nodes, along: Nodes) -> None:
    """Pairs that are left out for a whole motion are apart by more than the floor at every instant of it."""
    floor = 0.05
    pairs = np.arange(len(table.first))
    gone = np.setdiff1d(pairs, may_meet(table, [whole], pairs, floor))
    assert 0 < len(gone) < len(pairs)
    a, b = table.first[gone], table.second[gone]
    apart = (
        np.linalg.norm(along.centre[:, a] - along.centre[:, b], axis=-1) - table.radius[a] - table.radius[b]
    )
    for pair in gone[np.argsort(apart.min(axis=0))[:40]]:
        first, second = int(table.first[pair]), int(table.second[pair])
        one, other = table.pieces[first], table.pieces[second]
        for row in range(0, ROWS, 3):
            pose_one = along.body[row, table.body[first]] @ one.T_body_shape
            pose_other = along.body[row, table.body[second]] @ other.T_body_shape
            assert distance(one.geometry, pose_one, other.geometry, pose_other) > floor


def _check_near(table: PieceTable, along: Nodes) -> None:
    """Just those pairs are near whose balls are, and each ball and the box of the other."""
    pairs = np.tile(np.arange(len(table.first)), 3)
    rows = np.repeat([0, ROWS // 2, ROWS - 1], len(table.first))
    least = np.array([_least(table, along, int(r), int(p)) for r, p in zip(rows, pairs, strict=True)])
    within = np.linspace(-0.1, 0.4, len(rows))
    for asked in (within, 0.02, -0.02):
        assert np.array_equal(near(table, along, rows, pairs, asked), np.flatnonzero(least <= asked))


def _least(table: PieceTable, nodes: Nodes, row: int, pair: int) -> float:
    ends = int(table.first[pair]), int(table.second[pair])
    found = []
    for one, other in (ends, ends[::-1]):
        seen = nodes.axes[row, one].T @ (nodes.centre[row, other] - nodes.centre[row, one])
        found.append(np.linalg.norm(seen) - table.radius[one] - table.radius[other])
        past = np.maximum(np.abs(seen) - table.half[one], 0.0)
        found.append(np.linalg.norm(past) - table.radius[other])
    return float(max(found))


def _directions(rng: np.random.Generator) -> Array:
    d = rng.normal(size=(20, 3))
    return np.asarray(d / np.linalg.norm(d, axis=1, keepdims=True))


def _placed(nodes: Nodes, body: int, points: Array) -> Array:
    T = nodes.body[:, body]
    return np.asarray(np.einsum("iab,pb->ipa", T[:, :3, :3], points) + T[:, None, :3, 3])


def _angles(T: Array, T_middle: Array) -> Array:
    trace = np.einsum("iab,ab->i", T[:, :3, :3], T_middle[:3, :3])
    return np.asarray(np.arccos(np.clip((trace - 1) / 2, -1, 1)))


def _check_tail(
    cell: CellBodies, whole: Nodes, along: Nodes, body: int, points: Array, joint: int, tail: Array
) -> None:
    """Seen from a link further in, a point moves no further than the tail of that link."""
    for inner in range(1, joint + 1):
        link = next(
            i for i, b in enumerate(cell.bodies) if b.arm == "right" and b.joint == inner and b.kind == "link"
        )
        before = _seen_from(whole, link, body, points)[0]
        after = _seen_from(along, link, body, points)
        assert np.linalg.norm(after - before, axis=-1).max() <= tail[inner] + 1e-9


def _seen_from(nodes: Nodes, link: int, body: int, points: Array) -> Array:
    T = np.linalg.inv(nodes.body[:, link]) @ nodes.body[:, body]
    return np.asarray(np.einsum("iab,pb->ipa", T[:, :3, :3], points) + T[:, None, :3, 3])


@pytest.mark.parametrize("seed", range(4))
def test_the_compiled_bounds_are_those_of_array_arithmetic(seed: int) -> None:
    rng = np.random.default_rng(seed)
    arm = load_bodies(first_fit()).arms["left"]
    n, instants, controls, pieces = arm.joints, 5, 4, 9
    joints = arm.joint_poses_along(rng.uniform(-1.5, 1.5, (instants, n)))
    steps = rng.normal(0, 0.1, (instants, controls, n))
    centre, radius = rng.uniform(-0.5, 0.5, (instants, pieces, 3)), rng.uniform(0.01, 0.2, pieces)
    joint_of = rng.integers(0, n + 1, pieces)
    joint_of[:2] = (0, n)
    shift, tail = np.zeros((instants, controls, pieces, 3)), np.zeros((instants, pieces, n + 2))
    rest, turn, far = (np.zeros((instants, pieces)) for _ in range(3))
    given = arm.axes, arm.reach, joints, steps
    _compiled.travel(*given, centre, radius, joint_of, shift, rest, turn, far, tail)
    own = np.flatnonzero(joint_of)
    expected = travel_bounds(*given, centre[:, own], radius[own], joint_of[own])
    found = shift[:, :, own], rest[:, own], turn[:, own], tail[:, own, : n + 1]
    for one, wanted in zip(found, expected, strict=True):
        assert one == pytest.approx(wanted, abs=1e-12)
    furthest = np.linalg.norm(expected[0], axis=-1).max(axis=1) + expected[1]
    assert far[:, own] == pytest.approx(furthest, abs=1e-12)
    left_out = np.flatnonzero(joint_of == 0)
    assert not any(array[:, left_out].any() for array in (rest, turn, far, tail))
    with pytest.raises(ValueError, match="arrays of n joints"):
        _compiled.travel(*given, centre[1:], radius, joint_of, shift, rest, turn, far, tail)
