"""Parts that slide along each other: what a surface passes over is all there, and nothing hides inside it."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from tests.proof.chart_by_hand import first_fit

from handfast.proof.allowances import lasting
from handfast.proof.corridor import PlaceCorridor
from handfast.proof.exact import distance
from handfast.proof.mate_corridor import MateCorridor
from handfast.proof.outline import outline
from handfast.proof.passed_over import Part, gap_passed
from handfast.proof.piece import Piece, mesh_piece, primitive
from handfast.proof.stl import Array, Triangles, read_stl
from handfast.proof.swept import outermost, swept
from handfast.proof.tolerances import LEAD, PLACE_EXIT, PLACE_LATERAL, POSITION
from handfast.spatial import se3

MESHES = Path(__file__).parents[2] / "projects" / "dosing-pump" / "meshes"


@cache
def part(name: str) -> Piece:
    if name in PRIMITIVES:
        return primitive(PRIMITIVES[name], np.eye(4))
    return mesh_piece(*read_stl(MESHES / f"{name}.stl", 1e-3), np.eye(4))


def cube(edge: float) -> tuple[Array, Triangles]:
    corners = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)]) * edge / 2
    sides = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    return corners, np.array([t for a, b, c, d in sides for t in ((a, b, c), (a, c, d))])


def random_pose(rng: np.random.Generator, spread: float) -> Array:
    return np.asarray(se3.exp(np.concatenate([rng.uniform(-spread, spread, 3), rng.uniform(-3, 3, 3)])))


PAIRS = [
    ("ring", "body"),
    ("idler_gear", "drive_gear"),
    ("pin", "cover"),
    ("screw", "body"),
    ("lower_block", "tray"),
    ("shank", "stand"),
    ("handle", "stand"),
    ("pin", "shank"),
]
PRIMITIVES = {"shank": (0.006, 0.05), "handle": (0.03, 0.02, 0.05)}


@pytest.mark.parametrize(("small", "large"), PAIRS)
def test_no_instant_of_a_slide_is_nearer_than_what_is_passed_over(small: str, large: str) -> None:
    rng = np.random.default_rng(7)
    half, enough = 3e-3, 2e-3
    a, b = part(small), part(large)
    judged = 0
    for along in (np.array([0.0, 0.0, 1.0]), np.array([1.0, 0.0, 0.0]), np.array([0.6, 0.0, 0.8])):
        for _ in range(6):
            pose = random_pose(rng, 0.05)
            centre = pose[:3, :3] @ a.centre + pose[:3, 3]
            if not b.reaches_past(centre, a.radius + half):
                continue
            moved, still = Part(a, 0.05e-3, pose), Part(b, 0.0, np.eye(4))
            world = pose[:3, :3] @ along
            whole, up_to = (max(gap_passed(moved, still, world, half, e), 0.0) for e in (1.0, enough))
            assert up_to == pytest.approx(min(whole, enough), abs=1e-9)  # faces left out were further off
            steps = [pose @ se3.translation(*(s * along)) for s in np.linspace(-half, half, 13)]
            nearest = min(max(distance(a.drawn(0.05e-3), T, b.geometry, np.eye(4)), 0.0) for T in steps)
            assert whole <= nearest + 1e-7
            assert whole >= nearest - half / 12 - 1e-7  # and it is no further off than the steps are coarse
            judged += nearest > 0
    assert judged > 0


@pytest.mark.parametrize("size", list(PRIMITIVES.values()))
def test_the_outline_of_a_primitive_holds_it(size: tuple[float, ...]) -> None:
    for inside in (False, True):
        vertices, triangles = outline(size, inside)
        a, b, c = (vertices[triangles[:, i]] for i in range(3))
        volume = float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)  # positive: they look outward
        exact = float(np.prod(size)) if len(size) == 3 else np.pi * size[0] ** 2 * size[1]
        assert volume == pytest.approx(exact, rel=2e-3)
        assert (volume > exact * (1 - 1e-9)) or inside
        outward = np.cross(b - a, c - a)
        round_about = np.linalg.norm(a[:, :2], axis=1).min()
        if len(size) == 2:
            assert round_about == pytest.approx(size[0], abs=1e-12) if inside else round_about > size[0]
            walls = np.abs(outward[:, 2]) < 1e-12
            flat = np.einsum("ij,ij->i", a, outward)[walls] / np.linalg.norm(outward[walls], axis=1)
            assert (flat >= size[0] * (1 - 1e-12)).all() or inside  # no side cuts into the round


def test_what_a_cube_passes_over() -> None:
    for along in (np.array([1.0, 0.0, 0.0]), np.array([1.0, 1.0, 1.0]) / np.sqrt(3)):
        vertices, triangles = swept(*cube(0.01), along, 0.002)
        low, high = vertices[triangles].min(axis=(0, 1)), vertices[triangles].max(axis=(0, 1))
        assert high == pytest.approx(0.005 + 0.002 * along)
        assert low == pytest.approx(-0.005 - 0.002 * along)


def test_a_side_that_only_edges_pass_over_is_there() -> None:
    """A plate in the middle of the way, beside the cube at both ends, is met by a side."""
    moved = mesh_piece(*swept(*cube(0.01), np.array([1.0, 0.0, 0.0]), 0.02), np.eye(4))
    plate = mesh_piece(*cube(0.004), np.eye(4))
    for y, gap in ((0.008, 0.001), (0.007, 0.0), (0.0065, 0.0)):
        found = distance(moved.geometry, np.eye(4), plate.geometry, se3.translation(0.0, y, 0.0))
        assert max(found, 0.0) == pytest.approx(gap, abs=1e-9)


def test_a_face_along_the_way_is_covered_by_its_edges() -> None:
    """A three-sided prism whose flat ends lie along the way: their rims pass over what is above them."""
    flat = np.array([[0.0, -0.005], [0.0, 0.005], [0.008, 0.0]])
    vertices = np.concatenate([np.column_stack([flat, np.full(3, z)]) for z in (0.0, 0.004)])
    sides = [t for i, j in ((1, 0), (2, 1), (0, 2)) for t in ((i, j, j + 3), (i, j + 3, i + 3))]
    triangles = np.array([(0, 1, 2), (3, 5, 4), *sides])
    moved = mesh_piece(*swept(vertices, triangles, np.array([1.0, 0.0, 0.0]), 0.03), np.eye(4))
    ball = mesh_piece(*cube(0.002), np.eye(4))
    for z, gap in ((0.0055, 0.0005), (0.0045, 0.0)):
        found = distance(moved.geometry, np.eye(4), ball.geometry, se3.translation(0.0, 0.0, z))
        assert max(found, 0.0) == pytest.approx(gap, abs=1e-9)


def test_what_lies_wholly_inside_the_way_is_not_judged_by_its_outside() -> None:
    vertices, triangles = cube(0.01)
    far, near = np.array([0.03, 0.0, 0.0]), np.array([0.001, 0.0, 0.0])
    one = mesh_piece(vertices, triangles, np.eye(4))
    assert one.reaches_past(far, 0.02)
    assert not one.reaches_past(near, 0.02)
    two = mesh_piece(
        np.concatenate([vertices, vertices / 10 + near]),
        np.concatenate([triangles, triangles + 8]),
        np.eye(4),
    )
    assert len(outermost(*cube(0.01))) == 1
    assert len(two.ends) == 0
    assert not two.reaches_past(np.array([0.021, 0.0, 0.0]), 0.0207)  # the small one is in the ball
    assert two.reaches_past(np.array([0.021, 0.0, 0.0]), 0.018)
    assert len(two.ends) == 2


def test_a_mate_is_slid_into_no_further_than_home() -> None:
    (line,) = (a.corridor for a in lasting(first_fit()) if {a.a, a.b} == {"pin", "block"})
    assert isinstance(line, MateCorridor)
    block, home = se3.translation(0, 0.45, 0.015), se3.translation(-0.028, 0.45, 0.045)

    def inside(up: float, along: float) -> bool:
        poses = {"block": block, "pin": se3.translation(0, 0, up) @ home}
        return line.relief(poses.__getitem__, 1e-6, 0.0, along) is not None

    assert inside(1e-3, 1e-3)
    assert not inside(1e-3, 1e-3 + POSITION + 1e-6)
    assert inside(20e-3, LEAD - 1e-6)
    assert not inside(20e-3, LEAD + 1e-6)


def test_a_place_is_left_along_its_axis_or_straight_up() -> None:
    lying = se3.translation(0.1, 0.2, 0.3) @ se3.rotation(np.array([1.0, 0, 0]), -np.pi / 2)  # its z along y
    place = PlaceCorridor("pin", 0.1e-3, 0.0, lying)
    edge = PLACE_LATERAL + 0.1e-3

    def inside(x: float, y: float, z: float, along: float | None = None) -> bool:
        pose = se3.translation(x, y, z) @ lying
        return place.relief(lambda _: pose, 0.0, 0.0, along) is not None

    for up in (0.0, 1e-3, PLACE_EXIT - 1e-6):
        assert inside(0.0, 0.0, up)
        assert inside(edge - 1e-6, 0.0, up)
        assert not inside(edge + 1e-6, 0.0, up)
    assert inside(0.0, -PLACE_EXIT + 1e-6, 0.0)
    assert not inside(0.0, 0.0, PLACE_EXIT + 1e-6)
    assert not inside(0.0, 0.0, -edge - 1e-6)
    assert not inside(0.0, 2e-3, 2e-3)
    assert inside(0.0, 0.0, 2e-3, along=1e-3)
    assert not inside(0.0, 0.0, 2e-3, along=PLACE_EXIT)
    # On both lines, but only on the other one to within 0.25 mm: not what it is said to move along.
    both = se3.translation(0.0, 0.0, 0.2e-3) @ lying
    assert place.axis(lambda _: both) == pytest.approx([0.0, 1.0, 0.0])
    assert place.relief(lambda _: both, 0.25e-3, 0.0) is not None
    assert place.relief(lambda _: both, 0.25e-3, 0.0, 1e-3) is None
    axis = place.axis(lambda _: se3.translation(0.0, 0.0, 2e-3) @ lying)
    assert axis == pytest.approx([0.0, 0.0, 1.0])
    assert place.axis(lambda _: se3.translation(0.0, 2e-3, 0.0) @ lying) == pytest.approx([0.0, 1.0, 0.0])
