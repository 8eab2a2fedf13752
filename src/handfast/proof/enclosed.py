"""At the start, nothing may lie wholly inside something else: surfaces that are apart do not show that."""

from __future__ import annotations

import numpy as np

from handfast.model.proof import Violation
from handfast.proof.bodies import CellBodies
from handfast.proof.bounds import near
from handfast.proof.exact import apart_by
from handfast.proof.mesh import contains
from handfast.proof.pieces_table import PieceTable
from handfast.proof.stl import Array
from handfast.proof.stretch import Nodes, Stretch, look

TOUCHING = 1e-6
"""Surfaces this close [m] count as touching."""


def check_enclosed(cell: CellBodies, table: PieceTable, stretch: Stretch) -> list[Violation]:
    """Pieces inside a mesh before anything moves. From there on certified distances keep them out."""
    nodes = look(cell, table, stretch, np.zeros(1), np.zeros(1))
    found: list[Violation] = []
    pairs = np.arange(len(table.first))
    for pair in near(table, nodes, np.zeros_like(pairs), pairs, 0.0):
        first, second = table.first[pair], table.second[pair]
        for outer, inner in ((int(first), int(second)), (int(second), int(first))):
            if _inside(table, nodes, outer, inner):
                a, b = (cell.bodies[table.body[piece]].name for piece in (inner, outer))
                text = f"the start: {a} lies inside {b}"
                found.append(Violation("collision", 0, 0.0, float(table.radius[inner]), a, b, text))
    return found


def _inside(table: PieceTable, nodes: Nodes, outer: int, inner: int) -> bool:
    mesh = table.pieces[outer]
    if mesh.vertices is None or mesh.triangles is None:
        return False
    pose_outer, pose_inner = _pose(table, nodes, outer), _pose(table, nodes, inner)
    if not apart_by(mesh.geometry, pose_outer, table.pieces[inner].geometry, pose_inner, TOUCHING):
        return False  # they meet on their surfaces, which is judged as contact
    T_outer_inner = np.linalg.solve(pose_outer, pose_inner)
    return contains(
        mesh.vertices, mesh.triangles, (T_outer_inner @ np.array([*_point(table, inner), 1.0]))[:3]
    )


def _pose(table: PieceTable, nodes: Nodes, piece: int) -> Array:
    return np.asarray(nodes.body[0, table.body[piece]] @ table.pieces[piece].T_body_shape)


def _point(table: PieceTable, piece: int) -> Array:
    """A point of a piece, in its own frame: its first corner, or its middle."""
    vertices = table.pieces[piece].vertices
    return np.zeros(3) if vertices is None else vertices[0]
