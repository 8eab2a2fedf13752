"""Shapes for the geometry tests: written to files, and densely sampled by formulas of their own."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from handfast.model.shape import Box, Cylinder, Mesh, Shape, Solid, Sphere
from handfast.spatial import se3
from handfast.spatial.pose import Pose

Array = NDArray[np.float64]
MESHES = sorted((Path(__file__).parents[2] / "projects" / "first-fit" / "meshes").glob("*.stl"))
# A cube of edge 2 about its corner: faces by the right-hand rule.
CUBE = np.array([[x, y, z] for x in (0.0, 2) for y in (0.0, 2) for z in (0.0, 2)])
QUADS = ((0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3))
TRIANGLES = np.array([t for a, b, c, d in QUADS for t in ((a, b, c), (a, c, d))])


def ascii_stl(corners: Array) -> str:
    facets = [
        "facet normal 0 0 0\nouter loop\n"
        + "".join(f"vertex {x} {y} {z}\n" for x, y, z in t)
        + "endloop\nendfacet\n"
        for t in corners.tolist()
    ]
    return "solid cube\n" + "".join(facets) + "endsolid cube\n"


def binary_stl(corners: Array, header: bytes = b"made by a test") -> bytes:
    """The layout of the STL specification (3D Systems 1989): 80 bytes, a count, 50 bytes a triangle."""
    record = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("extra", "<u2")])
    rows = np.zeros(len(corners), dtype=record)
    rows["corners"] = corners
    return header.ljust(80, b"\0") + np.uint32(len(corners)).tobytes() + rows.tobytes()


def drawn_pose(rng: np.random.Generator, spread: float = 0.1) -> Array:
    return se3.exp(np.concatenate([rng.uniform(-spread, spread, 3), rng.normal(size=3)]))


def drawn_solids(rng: np.random.Generator) -> tuple[Solid, ...]:
    """One of each shape, tumbled."""
    shapes: list[Shape] = [
        Box((0.05, 0.02, 0.11)), Cylinder(0.02, 0.09), Cylinder(0.06, 0.004), Sphere(0.03),
        *(Mesh(str(path), 1e-3) for path in MESHES),
    ]  # fmt: skip
    return tuple(Solid(shape, Pose.from_matrix(drawn_pose(rng))) for shape in shapes)


def surface(solid: Solid, rng: np.random.Generator, count: int = 4000) -> Array:
    """Random points on the surface of a solid, in the frame of its body, (count, 3)."""
    local = on_shape(solid.shape, rng, count)
    return np.asarray(local @ solid.pose.matrix[:3, :3].T + solid.pose.matrix[:3, 3])


def on_shape(shape: Shape, rng: np.random.Generator, count: int) -> Array:
    if isinstance(shape, Box):
        points = rng.uniform(-1, 1, (count, 3))
        points[np.arange(count), rng.integers(0, 3, count)] = rng.choice([-1, 1], count)
        return np.asarray(points * np.array(shape.size) / 2)
    turn = rng.uniform(0, 2 * np.pi, count)
    if isinstance(shape, Cylinder):
        on_flank = rng.random(count) < 0.5
        radius = np.where(on_flank, 1, np.sqrt(rng.random(count))) * shape.radius
        z = np.where(on_flank, rng.uniform(-1, 1, count), rng.choice([-1, 1], count)) * shape.length / 2
        return np.column_stack([radius * np.cos(turn), radius * np.sin(turn), z])
    if isinstance(shape, Sphere):
        way = rng.normal(size=(count, 3))
        return np.asarray(way / np.linalg.norm(way, axis=1)[:, None] * shape.radius)
    return on_triangles(file_corners(Path(shape.path)) * shape.scale, rng, count)


def file_corners(path: Path) -> Array:
    """The triangles (m, 3, 3) of a binary STL, read by numpy alone."""
    record = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("extra", "<u2")])
    return np.fromfile(path, dtype=record, offset=84)["corners"].astype(np.float64)


def on_triangles(corners: Array, rng: np.random.Generator, count: int) -> Array:
    area = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1)
    rows = corners[rng.choice(len(corners), count, p=area / area.sum())]
    weights = rng.dirichlet(np.ones(3), count)
    return np.asarray(np.einsum("ij,ijk->ik", weights, rows))
