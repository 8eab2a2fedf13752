"""The motion bounds are bounds: points of every piece, followed through random motions, never move
further."""

from __future__ import annotations

import numpy as np
import pytest
from tests.proof.chart_by_hand import first_fit

from handfast.proof.bodies import CellBodies, load_bodies
from handfast.proof.joint_path import JointPath
from handfast.proof.pieces_table import piece_table
from handfast.proof.standing import Carrier
from handfast.proof.stretch import Nodes, Stretch, look, movers
from handfast.spatial.se3 import Array

ROWS = 40


@pytest.mark.parametrize("seed", range(6))
def test_no_point_moves_further_than_the_bound(seed: int) -> None:
    rng = np.random.default_rng(seed)
    project = first_fit()
    cell = load_bodies(project)
    table = piece_table(cell)
    h = 0.02 if seed % 2 else 0.3
    q0, v0, v1 = rng.uniform(-1.5, 1.5, 6), rng.normal(0, 2, 6), rng.normal(0, 2, 6)
    path = JointPath(np.array([0.0, h]), np.array([q0, q0 + (v0 + v1) / 2 * h]), np.array([v0, v1]))
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
            tightest = min(tightest, whole.travel[0, piece] / moved)
        if arm_of[piece] == "right":
            _check_tail(
                cell, whole, along, table.body[piece], points, int(joint_of[piece]), whole.tail[0, piece]
            )
    assert tightest < (1.5 if seed % 2 else 10)  # a bound that is no use would pass the rest too


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
