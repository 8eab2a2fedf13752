"""What one measured gap says of other places of a pair, held against distances measured there by coal."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from tests.proof.test_slides import part, random_pose

from handfast.proof.coherence import Gaps, Relative, relative
from handfast.proof.exact import distance
from handfast.proof.piece import Piece, primitive
from handfast.proof.pieces_table import PieceTable
from handfast.proof.stl import Array
from handfast.proof.stretch import Nodes
from handfast.spatial import se3

PLACES = 60


def table_of(*pieces: Piece) -> PieceTable:
    return PieceTable(
        pieces,
        np.arange(len(pieces)),
        np.array([piece.centre for piece in pieces]),
        np.array([piece.T_body_shape[:3, :3] for piece in pieces]),
        np.array([piece.half for piece in pieces]),
        np.array([piece.radius for piece in pieces]),
        np.array([0]),
        np.array([1]),
    )


def nodes_of(table: PieceTable, body: Array) -> Nodes:
    """Bodies that stand at body (I, P, 4, 4)."""
    still = np.zeros(body.shape[:2])
    centre = np.einsum("ipab,pb->ipa", body[..., :3, :3], table.centre) + body[..., :3, 3]
    shift, tail = np.zeros((len(body), 1, len(table.pieces), 3)), still[..., None]
    return Nodes(body, centre, body[..., :3, :3] @ table.axes, still, still, shift, still, tail, still)


@dataclass(frozen=True)
class Walk:
    """Two pieces that both move; places: of the pair at each instant; gaps: distances by coal."""

    table: PieceTable
    places: Relative
    body: Array
    gaps: Array


def walk(seed: int, turn: float) -> Walk:
    """One piece near another, and both carried about together; turn: how far the one turns on the way
    [rad]."""
    rng = np.random.default_rng(seed)
    placement = random_pose(rng, 0.02)
    small = primitive((0.008, 0.007, 0.060), placement) if seed % 2 else part("lower_block")
    table = table_of(part("cover"), small)
    begin, body = se3.translation(0.0, 0.0, 0.09) @ random_pose(rng, 0.01), []
    for share in np.linspace(0.0, 1.0, PLACES):
        step = se3.exp(share * np.array([*rng.normal(0, 1e-4, 2), -0.05, 0, turn, 0]))
        carried = random_pose(rng, 1.0)
        body.append((carried, carried @ begin @ step))
    where = np.array(body)
    rows = np.arange(PLACES)
    places = relative(table, nodes_of(table, where), rows, np.zeros(PLACES, dtype=np.int64))
    gaps = [max(gap_at(table, two), 0.0) for two in where]
    return Walk(table, places, where, np.array(gaps))


def gap_at(table: PieceTable, two: Array) -> float:
    (a, T_a), (b, T_b) = zip(table.pieces, two, strict=True)
    return distance(a.geometry, T_a @ a.T_body_shape, b.geometry, T_b @ b.T_body_shape)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("turn", [0.0, 0.8])
def test_no_pair_is_nearer_than_one_gap_says(seed: int, turn: float) -> None:
    way = walk(seed, turn)
    pairs = np.zeros(PLACES, dtype=np.int64)
    known, settled = Gaps(1), 0
    for k in (0, 30, 59):
        known.add(0, way.places.centre[k], way.places.axes[k], float(way.gaps[k]))
        least = known.least(pairs, way.places)
        assert (least <= way.gaps + 1e-9).all()
        settled += int((least > 1e-3).sum())
    assert settled > 10  # what says nothing would be right, too


@pytest.mark.parametrize("seed", range(4))
def test_no_pair_is_nearer_than_its_boxes(seed: int) -> None:
    rng, told = np.random.default_rng(seed), 0
    table = table_of(part("cover"), primitive((0.008, 0.007, 0.060), random_pose(rng, 0.02)))
    for _ in range(40):
        body = np.stack([random_pose(rng, 0.02), random_pose(rng, 0.08)])
        row = np.zeros(1, dtype=np.int64)
        apart = float(relative(table, nodes_of(table, body[None]), row, row).boxes_apart()[0])
        assert apart <= max(gap_at(table, body), 0.0) + 1e-9
        told += apart > 1e-3
    assert told > 5


@pytest.mark.parametrize("seed", range(6))
def test_no_point_of_a_ball_is_further_from_where_it_was_than_the_step(seed: int) -> None:
    rng = np.random.default_rng(seed)
    radius = 0.05
    points = rng.normal(size=(4000, 3))
    points *= radius / np.linalg.norm(points, axis=1, keepdims=True)
    one, other = random_pose(rng, 0.02), random_pose(rng, 0.02)
    box = np.full((1, 3), radius)
    place = Relative(one[None, :3, 3], one[None, :3, :3], np.array([radius]), box, box)
    moved = points @ one[:3, :3].T + one[:3, 3] - points @ other[:3, :3].T - other[:3, 3]
    step = float(place.steps(other[:3, 3], other[:3, :3])[0])
    furthest = float(np.linalg.norm(moved, axis=1).max())
    assert furthest <= step + 1e-12
    together = one[:3, 3] - other[:3, 3]
    assert step <= furthest + np.linalg.norm(together) + 1e-3  # and it is no more than triangles ask for


def test_the_oldest_gap_is_forgotten_first() -> None:
    known = Gaps(2)
    box = np.full((1, 3), 0.01)
    here = Relative(np.zeros((1, 3)), np.eye(3)[None], np.array([0.01]), box, box)
    pair = np.array([1])
    assert known.least(pair, here)[0] == -np.inf
    known.add(1, np.zeros(3), np.eye(3), 0.5)
    assert known.least(pair, here)[0] == pytest.approx(0.5)
    assert known.least(np.array([0]), here)[0] == -np.inf  # of another pair it says nothing
    for far in range(1, 20):
        known.add(1, np.array([float(far), 0.0, 0.0]), np.eye(3), 0.1)
    assert known.least(pair, here)[0] < 0.0
