"""The mesh of a drawn part, as a project keeps it."""

from __future__ import annotations

import numpy as np

from handfast.geometry.cad.around import across
from handfast.geometry.cad.face_graph import Face, FaceGraph
from handfast.geometry.drawn_block import binary_stl
from handfast.spatial.se3 import Array


def stl_of(graph: FaceGraph) -> bytes:
    """Binary STL in mm. Holes are circumscribed: their flats touch the true circle from outside, so that a
    shaft of their size goes in; shafts are inscribed as the CAD library draws them."""
    vertices = graph.vertices + _widening(graph)
    corners = (1e3 * vertices[graph.triangles]).astype(np.float32)
    cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return binary_stl(corners[np.linalg.norm(cross, axis=1) > 0], "millimetres")


def _widening(graph: FaceGraph) -> Array:
    """How far each vertex moves (v, 3) [m]."""
    moves = np.zeros_like(graph.vertices)
    done = np.zeros(len(moves), dtype=bool)
    for face in graph.faces:
        if face.kind not in ("cylinder", "cone") or face.outward > 0:
            continue
        own = np.unique(graph.triangles[graph.of_face == face.index])
        own = own[~done[own]]
        if len(own):
            moves[own] = _outwards(face, graph.vertices[own])
            done[own] = True
    return moves


def _outwards(face: Face, points: Array) -> Array:
    away = points - face.origin
    out = away - (away @ face.axis)[:, None] * face.axis
    x, y = across(face.axis)
    angles = np.unique(np.round(np.arctan2(out @ y, out @ x), 6))
    steps = np.diff(angles)
    usual = steps[(steps > 1e-3) & (steps < 0.5)]
    step = float(usual.max()) if len(usual) else 0.0
    return np.asarray(out * (1 / np.cos(step / 2) - 1))
