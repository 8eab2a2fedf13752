"""Blocks with a bore, drawn as closed meshes."""

from __future__ import annotations

import math

import numpy as np

from handfast.spatial.pose import Vec3

SEGMENTS = 96
_AROUND = 1.0 / math.cos(math.pi / SEGMENTS)
"""A hole is circumscribed: its faces touch the circle from outside, so that a shaft of its size goes in."""
_OVER = 1e-3  # a cut starts this far outside the material


def block_with_bore(size: Vec3, diameter: float, depth: float, chamfer: float = 0.0) -> bytes:
    """A block standing on the middle of its underside, bored down from the middle of its top, as binary STL.

    size, diameter, depth and chamfer (radial width, 45 degrees) in m; the file is in mm. Equal sizes give
    equal bytes.
    """
    from manifold3d import Manifold

    x, y, z = (1e3 * v for v in size)
    wide, deep, lead, over = (1e3 * v for v in (_AROUND * diameter / 2, depth, chamfer, _OVER))
    body = Manifold.cube((x, y, z), True).translate((0, 0, z / 2))
    body -= Manifold.cylinder(deep + over, wide, wide, SEGMENTS).translate((0, 0, z - deep))
    if lead > 0:
        mouth = Manifold.cylinder(lead + over, wide, wide + _AROUND * (lead + over), SEGMENTS)
        body -= mouth.translate((0, 0, z - lead))
    mesh = body.to_mesh()
    corners = np.asarray(mesh.vert_properties, dtype=np.float32)[:, :3][np.asarray(mesh.tri_verts)]
    return binary_stl(corners, "millimetres")


def binary_stl(corners: np.ndarray, head: str) -> bytes:
    """Triangles (m, 3, 3), outward, as binary STL with that text (at most 80 characters) at its head."""
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    layout = [("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")]
    record = np.zeros(len(corners), dtype=layout)
    record["normal"] = across / np.linalg.norm(across, axis=1, keepdims=True)
    record["corners"] = corners
    return head.encode().ljust(80, b" ") + np.uint32(len(record)).tobytes() + record.tobytes()
