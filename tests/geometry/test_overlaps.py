"""Many bodies at once against each pair on its own, and against shared boxes worked out by hand."""

from __future__ import annotations

from itertools import combinations, pairwise
from pathlib import Path

import numpy as np
import pytest
from manifold3d import Manifold, OpType

from handfast.geometry.overlap import cut, overlap_depth
from handfast.geometry.overlaps import Placed, meeting, overlap_depths
from handfast.model.shape import Box, Cylinder, Mesh, Shape, Solid, Sphere
from handfast.spatial import se3
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import Array


def body(rng: np.random.Generator, wide: float) -> Placed:
    """One to three shapes around a place in a cube so wide [m]."""
    made = []
    for _ in range(rng.integers(1, 4)):
        size = rng.uniform(0.01, 0.06, 3)
        shape = (Box((size[0], size[1], size[2])), Cylinder(size[0], size[1]), Sphere(size[0]))
        made.append(Solid(shape[rng.integers(3)], Pose.from_matrix(turned(rng, 0.03))))
    return tuple(made), turned(rng, wide)


def turned(rng: np.random.Generator, wide: float) -> Array:
    T = se3.fixed_xyz(*rng.uniform(-3, 3, 3))
    T[:3, 3] = rng.uniform(-wide, wide, 3)
    return T


def every(i: int, k: int) -> bool:
    return True


@pytest.mark.parametrize(("seed", "wide"), [(1, 0.1), (2, 0.2), (3, 0.25)])
def test_many_bodies_overlap_as_each_pair_does(seed: int, wide: float) -> None:
    rng = np.random.default_rng(seed)
    bodies = [body(rng, wide) for _ in range(30)]
    one_by_one = {
        (i, k): overlap_depth(*bodies[i], *bodies[k], "") for i, k in combinations(range(len(bodies)), 2)
    }
    at_once = overlap_depths(bodies, "", every)
    assert sum(d > 0 for d in one_by_one.values()) > 5
    assert all(i < k for i, k in at_once)
    for pair, depth in one_by_one.items():
        assert at_once.get(pair, 0.0) == pytest.approx(depth, abs=1e-8), pair


def grid(count: int) -> list[tuple[float, float]]:
    return [(0.03 * (k % 6), 0.03 * (k // 6)) for k in range(count)]


def at(shape: Shape, x: float = 0.0, y: float = 0.0, z: float = 0.0) -> Placed:
    return (Solid(shape),), se3.translation(x, y, z)


def test_what_lies_in_a_tray_is_told_apart() -> None:
    """Pins of 10 mm square that stand k tenths of a millimetre in a floor: a layer of 10 x 10 x k/10 each,
    twice its volume over its surface worked out by hand. Every third one stands free."""
    depths = [0.0 if k % 3 == 0 else 1e-4 * k for k in range(36)]
    floor = at(Box((1.0, 1.0, 0.01)), z=-0.005)
    pins = [
        at(Box((0.01, 0.01, 0.05)), x, y, 0.025 - deep if deep else 0.03)
        for (x, y), deep in zip(grid(36), depths, strict=True)
    ]
    for bodies, of_pin in (([floor, *pins], lambda k: (0, k + 1)), ([*pins, floor], lambda k: (k, 36))):
        found = overlap_depths(bodies, "", every)
        expected = {
            of_pin(k): 2 * 1e-4 * d / (2 * 1e-4 + 4 * 0.01 * d) for k, d in enumerate(depths) if d > 0
        }
        assert found.keys() == expected.keys()
        assert all(found[p] == pytest.approx(d, abs=1e-9) for p, d in expected.items())


def test_neighbours_in_a_row_are_cut_apart() -> None:
    """Each of a row of blocks reaches into the next, and a bar into all of them: no piece counts for another
    pair."""
    blocks = [at(Box((0.012, 0.01, 0.01)), 0.01 * k) for k in range(12)]
    found = overlap_depths([*blocks, at(Box((0.2, 0.01, 0.01)), 0.05, 0.0, 0.009)], "", every)
    layer = 2 * (0.002 * 1e-4) / (2 * 1e-4 + 4 * 0.01 * 0.002)
    under = 2 * (0.012 * 0.01 * 0.001) / (2 * 0.00012 + 2 * (0.012 + 0.01) * 0.001)
    assert {p for p in found if 12 not in p} == set(pairwise(range(12)))
    assert all(d == pytest.approx(under if 12 in p else layer, abs=1e-9) for p, d in found.items())
    assert len(found) == 11 + 12


def test_only_what_is_wanted_is_cut_and_only_near_bodies_are_asked_for() -> None:
    bodies = [at(Box((0.012, 0.01, 0.01)), 0.01 * k) for k in range(6)]
    asked = []

    def wanted(i: int, k: int) -> bool:
        asked.append((i, k))
        return i % 2 == 0

    assert overlap_depths(bodies, "", wanted).keys() == {(0, 1), (2, 3), (4, 5)}
    assert sorted(asked) == list(pairwise(range(6)))


def test_a_mesh_that_cannot_be_read_claims_nothing(tmp_path: Path) -> None:
    (tmp_path / "bad.stl").write_text("solid nothing")
    block = at(Box((0.01, 0.01, 0.01)))
    bodies = [block, ((Solid(Mesh("bad.stl", 1.0)),), np.eye(4)), block]
    assert overlap_depths(bodies, str(tmp_path), every).keys() == {(0, 2)}


@pytest.mark.parametrize("seed", range(20))
def test_boxes_that_meet_are_those_of_all_pairs_that_do(seed: int) -> None:
    rng = np.random.default_rng(seed)
    middle, half = rng.uniform(-1, 1, (60, 3)), rng.uniform(0, 0.3, (60, 3))
    if seed % 2:  # many that end in one plane, and touch there
        middle, half = middle.round(1), half.round(1)
    low, high = middle - half, middle + half
    if seed % 3 == 0:
        low[7], high[7] = np.inf, -np.inf  # an empty one meets nothing
    pairs = combinations(range(60), 2)
    expected = [(i, k) for i, k in pairs if (low[i] <= high[k]).all() and (low[k] <= high[i]).all()]
    found = list(meeting(low, high))
    assert sorted(found) == sorted(expected)
    assert len(expected) > 20


@pytest.mark.parametrize("seed", [1, 2])
def test_pieces_are_those_that_the_mesh_library_finds(seed: int) -> None:
    """Cut apart, boxed and measured as manifold3d itself decomposes and measures them."""
    rng = np.random.default_rng(seed)
    comb = [Manifold.cube((0.01, 0.3, 0.1)).translate((0.03 * k, 0.0, 0.0)) for k in range(9)]
    comb += [Manifold.sphere(0.012, 24).translate(rng.uniform(0.3, 0.6, 3)) for _ in range(4)]
    bar = Manifold.cube((0.6, 0.02, 0.7)).translate((-0.05, 0.1, 0.03)) + Manifold.cube(
        (0.3, 0.3, 0.3)
    ).translate((0.3, 0.3, 0.3))
    one, other = Manifold.batch_boolean(comb, OpType.Add), bar.rotate((3.0, 2.0, 1.0))
    ours = sorted(cut(one, [other]), key=lambda p: p.low.tolist())
    theirs = sorted((one ^ other).decompose(), key=lambda p: p.bounding_box()[:3])
    assert len(ours) == len(theirs) >= 9
    for piece, known in zip(ours, theirs, strict=True):
        np.testing.assert_allclose([*piece.low, *piece.high], known.bounding_box(), atol=1e-12)
        assert piece.thickness == pytest.approx(2 * known.volume() / known.surface_area(), rel=1e-9)


def test_what_is_left_out_is_no_deeper_than_asked_for() -> None:
    """Pins that stand k tenths of a millimetre in a floor, and a slanted one: those that are in it by less
    than 1.05 mm are left out, the others found as they are."""
    floor, tilted = at(Box((1.0, 1.0, 0.01)), z=-0.005), se3.fixed_xyz(0.4, 0.3, 0.2)
    tilted[:3, 3] = 0.4, 0.4, 0.02
    pins = [at(Box((0.01, 0.01, 0.05)), x, y, 0.025 - 1e-4 * k) for k, (x, y) in enumerate(grid(30), start=1)]
    bodies = [floor, *pins, ((Solid(Box((0.01, 0.01, 0.05))),), tilted)]
    whole, some = (overlap_depths(bodies, "", every, least) for least in (0.0, 1.05e-3))
    assert whole.keys() == {(0, k) for k in range(1, 32)}
    assert some == pytest.approx({pair: depth for pair, depth in whole.items() if pair[1] > 10})
    assert all(depth < 1.05e-3 for pair, depth in whole.items() if pair not in some)
