"""The dosing pump put together: its files are right, its parts share no space but where they should."""

from __future__ import annotations

import math
import re
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from manifold3d import CrossSection, Manifold, Mesh

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.geometry.mesh import read_mesh
from handfast.mates.home import assembled_poses
from handfast.model import shape
from handfast.model.part import Part
from handfast.model.product import Product
from handfast.spatial import se3
from handfast.standards.clearance_holes import clearance_hole
from handfast.standards.dowel_pins import dowel_pin
from handfast.standards.socket_head_screws import socket_head

FOLDER = Path(__file__).parents[2] / "projects" / "dosing-pump"
NOTHING = 1e-3
"""Shared space [mm3] that is only the rounding of faces that lie on each other, in single precision."""
STEP = (FOLDER / "assembly.step").read_text(encoding="ascii")


@pytest.fixture(scope="module")
def product() -> Product:
    checked = check_folder(FOLDER)
    assert isinstance(checked, CheckedProject), checked
    assert checked.notes == ()
    return checked.project.product


@pytest.fixture(scope="module")
def solids(product: Product) -> dict[str, Manifold]:
    """Every part at home, in the frame of the body [mm]."""
    return {n: drawn(product.part(n)).transform(_mm(T)) for n, T in assembled_poses(product).items()}


def drawn(part: Part) -> Manifold:
    """The mesh of a part in its own frame [mm]."""
    mesh = part.solids[0].shape
    assert isinstance(mesh, shape.Mesh)
    vertices, triangles = read_mesh(FOLDER / mesh.path, mesh.scale)
    solid = Manifold(Mesh(np.asarray(1e3 * vertices, np.float32), np.asarray(triangles, np.uint32)))
    assert solid.num_tri() > 0, part.name
    return solid


def _mm(T: np.ndarray) -> np.ndarray:
    out = np.array(T[:3])
    out[:, 3] *= 1e3
    return out


def shared(solids: dict[str, Manifold]) -> dict[frozenset[str], float]:
    """Space that two parts share [mm3], where there is any."""
    pairs = {frozenset((a, b)): float((solids[a] ^ solids[b]).volume()) for a, b in combinations(solids, 2)}
    return {pair: volume for pair, volume in pairs.items() if volume > NOTHING}


def test_thirteen_parts_twelve_mates(product: Product) -> None:
    assert len(product.parts) == 13
    assert {m.part for m in product.mates} == {p.name for p in product.parts} - {"body"}


def test_only_threads_and_the_squeezed_ring_share_space(solids: dict[str, Manifold]) -> None:
    screws = {frozenset(("body", f"screw_{n}")) for n in (1, 2, 3, 4)}
    assert set(shared(solids)) == screws | {frozenset(("cover", "ring"))}


def test_a_screw_shares_with_the_body_its_shank_beyond_the_drill(solids: dict[str, Manifold]) -> None:
    # A ring from 3.3 to 3.9 in diameter over 6 mm; the 45 degree mouth and tip take 0.6 of it at either end,
    # of which 0.3 is a ring that narrows from full to nothing.
    area = math.pi * (1.95**2 - 1.65**2)
    narrowing = math.pi * ((1.95**3 - 1.65**3) / 3 - 1.65**2 * 0.3)
    for n in (1, 2, 3, 4):
        volume = shared(solids)[frozenset(("body", f"screw_{n}"))]
        # 0.5 %: polygons of 96 sides inside and around the circles.
        assert volume == pytest.approx(4.8 * area + 2 * narrowing, rel=0.005)


def test_the_cover_takes_the_rings_squeeze(solids: dict[str, Manifold]) -> None:
    # The part of a torus beyond half its section's radius, by Pappus: the segment's area times its path,
    # whose radius is the ring's, since the segment is as wide inside as outside.
    segment = math.acos(0.5) - 0.5 * math.sqrt(0.75)
    volume = shared(solids)[frozenset(("cover", "ring"))]
    assert volume == pytest.approx(segment * 2 * math.pi * 23.5, rel=0.01)  # drawn with 48 sides


def test_the_gears_run_free_with_the_middle_of_their_backlash(solids: dict[str, Manifold]) -> None:
    gap = float(solids["drive_gear"].min_gap(solids["idler_gear"], 1.0))
    # Backlash along the pitch circle is seen square to the flanks as its cosine, half of it on either side.
    assert gap == pytest.approx(0.09 / 2 * math.cos(math.radians(20)), abs=0.001)


@pytest.mark.parametrize("share", [0.25, 0.5, 0.75])
def test_the_gears_turn_through_each_other(solids: dict[str, Manifold], share: float) -> None:
    turn = share * 360 / 18
    drive = _turned(solids["drive_gear"], -9.0, turn)
    idler = _turned(solids["idler_gear"], 9.0, -turn)
    assert float((drive ^ idler).volume()) < NOTHING
    # Out of step they would not fit.
    assert float((drive ^ _turned(idler, 9.0, 5.0)).volume()) > 1.0


def _turned(solid: Manifold, x: float, degrees: float) -> Manifold:
    return solid.translate((-x, 0, 0)).rotate((0, 0, degrees)).translate((x, 0, 0))


def test_the_cover_lies_flat_on_the_body(solids: dict[str, Manifold]) -> None:
    assert float(solids["body"].min_gap(solids["cover"], 1.0)) == 0.0
    # Nothing underneath holds it off: 0.04 of play over the upper block.
    assert float(solids["upper_block"].min_gap(solids["cover"], 1.0)) == pytest.approx(0.04, abs=1e-4)


def test_no_hole_is_drawn_narrower_and_no_shaft_wider_than_nominal(product: Product) -> None:
    seen = 0
    for part in product.parts:
        for feature in part.features:
            if feature.kind not in ("hole", "shaft") or feature.diameter is None or feature.length is None:
                continue
            if feature.name in ("socket", "rim"):
                continue  # a hexagon, and the tips of teeth
            into = 1 if feature.kind == "hole" else -1
            section = drawn(part).transform(_mm(se3.inverse(feature.frame.matrix)))
            nominal = 500 * feature.diameter
            nearest, farthest = _radii(section.slice(into * 500 * feature.length), nominal)
            where = f"{part.name}.{feature.name}"
            # One micrometre for single precision; 96 sides take 0.05 % of a radius, the ring's 48 0.21 %.
            if feature.kind == "hole":
                assert nominal - 1e-3 < nearest <= farthest < 1.0006 * nominal + 1e-3, where
            else:
                rough = 0.9978 if part.name == "ring" else 0.9994
                assert rough * nominal - 1e-3 < nearest <= farthest < nominal + 1e-3, where
            seen += 1
    assert seen == 30


def _radii(section: CrossSection, radius: float) -> tuple[float, float]:
    """Least and largest distance from the axis of the edges along a circle of about that radius [mm]."""
    nearest, farthest = [], []
    for polygon in section.to_polygons():
        a = np.asarray(polygon)
        b = np.roll(a, -1, axis=0)
        on = (np.abs(np.hypot(*a.T) - radius) < 0.06) & (np.abs(np.hypot(*b.T) - radius) < 0.06)
        along = b[on] - a[on]
        share = np.clip(-(a[on] * along).sum(axis=1) / np.maximum((along**2).sum(axis=1), 1e-12), 0, 1)
        nearest += np.hypot(*(a[on] + share[:, None] * along).T).tolist()
        farthest += np.hypot(*a[on].T).tolist()
    assert nearest
    return min(nearest), max(farthest)


def test_sizes_follow_the_standards(product: Product) -> None:
    head = socket_head("M4")  # ISO 4762
    size = np.ptp(np.array(drawn(product.part("screw_1")).bounding_box()).reshape(2, 3), axis=0)
    assert size == pytest.approx([1e3 * head.head_diameter] * 2 + [12 + 1e3 * head.head_height], abs=0.01)
    hole = product.part("cover").feature("screw_hole_1")
    assert hole.diameter == pytest.approx(clearance_hole("M4", "medium"))  # ISO 273
    chamfer = product.part("pin_a").feature("tip").chamfer
    assert chamfer is not None
    assert chamfer.width == pytest.approx(dowel_pin(0.005).chamfer_width, abs=1e-5)  # ISO 8734


def test_assembly_step_is_ap214_with_every_part_named(product: Product) -> None:
    assert "FILE_SCHEMA(('AUTOMOTIVE_DESIGN" in STEP  # the schema name of ISO 10303-214
    uses = re.findall(r"NEXT_ASSEMBLY_USAGE_OCCURRENCE\('\d+','(\w+)','',#\d+,#(\d+)", STEP)
    assert {name for name, _ in uses} == {p.name for p in product.parts}
    drawings = dict(uses)
    assert len({drawings[f"screw_{n}"] for n in (1, 2, 3, 4)}) == 1  # one part used four times
    assert len({drawings["pin_a"], drawings["pin_b"]}) == 1
    assert len(set(drawings.values())) == 9


def test_assembly_step_has_the_parts_where_the_mates_bring_them(product: Product) -> None:
    at = {name: T[:3, 3] * 1e3 for name, T in assembled_poses(product).items()}
    moved = {name: position for name, position in at.items() if np.abs(position).max() > 1e-9}
    points = re.findall(r"CARTESIAN_POINT\('',\(([^,)]*),([^,)]*),([^,)]*)\)\)", STEP)
    table = np.array(points, dtype=float)
    for name, position in moved.items():
        assert np.abs(table - position).max(axis=1).min() < 1e-6, name
