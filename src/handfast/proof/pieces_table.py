"""The pieces of all bodies as arrays, and the pairs of them that can ever meet."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handfast.proof.bodies import Body, CellBodies
from handfast.proof.piece import Piece
from handfast.proof.stl import Array

Index = NDArray[np.int64]


@dataclass(frozen=True)
class PieceTable:
    """P pieces: body (P,), centre (P, 3) and axes (P, 3, 3) of the box around it in the body frame, half (P,
    3), radius (P,) [m]. first, second (K,): the pairs of pieces that are checked."""

    pieces: tuple[Piece, ...]
    body: Index
    centre: Array
    axes: Array
    half: Array
    radius: Array
    first: Index
    second: Index


def piece_table(cell: CellBodies) -> PieceTable:
    """The table of a cell."""
    owned = [(i, piece) for i, body in enumerate(cell.bodies) for piece in body.pieces]
    body = np.array([i for i, _ in owned], dtype=np.int64)
    pieces = tuple(piece for _, piece in owned)
    apart = np.array([[never_meet(a, b) for b in cell.bodies] for a in cell.bodies])
    first, second = np.triu_indices(len(pieces), 1)
    kept = ~apart[body[first], body[second]]
    return PieceTable(
        pieces,
        body,
        np.array([piece.centre for piece in pieces]),
        np.array([piece.T_body_shape[:3, :3] for piece in pieces]),
        np.array([piece.half for piece in pieces]),
        np.array([piece.radius for piece in pieces]),
        first[kept].astype(np.int64),
        second[kept].astype(np.int64),
    )


def never_meet(a: Body, b: Body) -> bool:
    """Pairs that are not checked: what is fixed to the ground among itself, neighbours in one arm's chain,
    and what moves with the same joint of an arm (a hand and the link it is mounted on)."""
    if a is b:
        return True
    if _fixed(a) and _fixed(b):
        return True
    if a.arm and a.arm == b.arm:
        apart = abs(a.joint - b.joint)
        return apart == 0 or (apart == 1 and a.kind == b.kind == "link")
    return False


def _fixed(body: Body) -> bool:
    return body.kind == "fixture" or (body.kind == "link" and body.joint == 0)
