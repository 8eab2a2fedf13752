"""Home poses: of the example by hand from its drawing, of tumbled parts by the drawing's own conditions."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from handfast.files.project_reader import read_project
from handfast.geometry.overlap import overlap_depth
from handfast.mates.home import HomeError, assembled_poses, home_in, motion_axis
from handfast.model.feature import Feature
from handfast.model.mate import FeaturePair, Mate
from handfast.model.part import Part
from handfast.model.product import Product
from handfast.spatial import se3
from handfast.spatial.pose import Pose

Array = NDArray[np.float64]
X, Y, Z = np.eye(3)


def first_fit() -> Product:
    project, _ = read_project(Path(__file__).parents[2] / "projects" / "first-fit")
    assert project is not None
    return project.product


# From the drawing: the pin's tip 20 mm deep in a bore whose mouth is 30 mm up, so its middle is level with
# the mouth;
# the cover, whose hole ends 20 mm below the pin's top, lies on the block; the screw's head lies on the cover.
BY_HAND = {"block": (0, 0, 0), "pin": (-28, 0, 30), "cover": (0, 0, 30), "screw": (38, 0, 36)}


def test_the_examples_parts_go_where_the_drawing_puts_them() -> None:
    poses = assembled_poses(first_fit())
    assert set(poses) == set(BY_HAND)
    for part, position in BY_HAND.items():
        np.testing.assert_allclose(poses[part][:3, 3], np.array(position) * 1e-3, atol=1e-12)
        np.testing.assert_allclose(poses[part][:3, 2], Z, atol=1e-12)  # every part of it stands upright
    np.testing.assert_allclose(poses["cover"][:3, :3], np.eye(3), atol=1e-12)


@pytest.mark.parametrize("angle", [0.4, -2.0, 3.0])
def test_the_cover_lies_square_however_the_pin_is_turned(angle: float) -> None:
    product = first_fit()
    poses = assembled_poses(product)
    turned = {**poses, "pin": poses["pin"] @ se3.rotation(Z, angle)}
    np.testing.assert_allclose(
        home_in(product, product.mate("cover-on-block"), turned), poses["cover"], atol=1e-12
    )


def test_the_screw_turned_in_its_features_goes_home_with_them() -> None:
    """With one pair the roll comes from the frames' own x axes."""
    product = first_fit()
    block = product.part("block")
    tapped = block.feature("tapped")
    turned = replace(tapped, frame=Pose.from_matrix(tapped.frame.matrix @ se3.rotation(Z, 0.3)))
    features = tuple(turned if f is tapped else f for f in block.features)
    other = replace(product, parts=(replace(block, features=features), *product.parts[1:]))
    before, after = assembled_poses(product)["screw"], assembled_poses(other)["screw"]
    np.testing.assert_allclose(after[:3, 3], before[:3, 3], atol=1e-12)
    np.testing.assert_allclose(after[:3, :3], before[:3, :3] @ se3.rotation(Z, -0.3)[:3, :3], atol=1e-12)


def drawn(rng: np.random.Generator) -> Array:
    return se3.exp(np.concatenate([rng.uniform(-0.1, 0.1, 3), rng.normal(size=3)]))


def two_pairs(rng: np.random.Generator) -> tuple[Product, Mate]:
    """A plate with two holes, on a base with two dowels: same spacing, all frames tumbled."""
    first, second = drawn(rng), drawn(rng)
    holes = [Feature(n, "hole", Pose.from_matrix(T)) for n, T in (("a", first), ("b", second))]
    lies = drawn(rng)  # how the plate would have to lie
    dowels = [
        Feature(n, "shaft", Pose.from_matrix(lies @ T @ se3.rotation(Z, rng.uniform(-3, 3))))
        for n, T in (("c", first @ se3.translation(0, 0, -0.004)), ("d", second))
    ]
    parts = (Part("base", (), tuple(dowels), 1.0), Part("plate", (), tuple(holes), 1.0))
    pairs = (FeaturePair("a", "base", "c", depth=0.004), FeaturePair("b", "base", "d"))
    mate = Mate("plate-on-base", "seat", "plate", "base", pairs)
    return Product("base", parts, (mate,)), mate


@pytest.mark.parametrize("seed", range(20))
def test_the_second_pair_turns_the_roll_until_both_meet(seed: int) -> None:
    rng = np.random.default_rng(seed)
    product, mate = two_pairs(rng)
    T_base = drawn(rng)
    T_plate = home_in(product, mate, {"base": T_base})
    base, plate = product.parts
    a, b = (T_plate @ plate.feature(n).frame.matrix for n in "ab")
    c, d = (T_base @ base.feature(n).frame.matrix for n in "cd")
    np.testing.assert_allclose(a[:3, 3], (c @ se3.translation(0, 0, 0.004))[:3, 3], atol=1e-12)
    np.testing.assert_allclose(a[:3, 2], c[:3, 2], atol=1e-12)
    np.testing.assert_allclose(b[:3, 3], d[:3, 3], atol=1e-12)
    np.testing.assert_allclose(b[:3, 2], d[:3, 2], atol=1e-12)


def test_with_another_spacing_the_second_pair_still_points_the_right_way() -> None:
    """A slot takes up the spacing: the origins lie in one half plane through the first axis, not on each
    other."""
    rng = np.random.default_rng(3)
    product, mate = two_pairs(rng)
    base, plate = product.parts
    wide = base.feature("d").frame.matrix.copy()
    c = base.feature("c").frame.matrix
    out = wide[:3, 3] - c[:3, 3]
    out -= (out @ c[:3, 2]) * c[:3, 2]
    wide[:3, 3] += 0.3 * out
    features = (base.feature("c"), replace(base.feature("d"), frame=Pose.from_matrix(wide)))
    product = replace(product, parts=(replace(base, features=features), plate))
    T = home_in(product, mate, {"base": np.eye(4)})
    seen = se3.inverse(c) @ T @ plate.feature("b").frame.matrix
    wanted = se3.inverse(c) @ wide
    assert np.arctan2(*seen[1::-1, 3]) == pytest.approx(np.arctan2(*wanted[1::-1, 3]), abs=1e-12)
    assert np.hypot(*wanted[:2, 3]) == pytest.approx(1.3 * np.hypot(*seen[:2, 3]))


def test_a_second_pair_on_the_axis_of_the_first_tells_no_roll() -> None:
    product, mate = two_pairs(np.random.default_rng(4))
    base, plate = product.parts
    above = plate.feature("a").frame.matrix @ se3.translation(0, 0, 0.01)
    features = (plate.feature("a"), replace(plate.feature("b"), frame=Pose.from_matrix(above)))
    product = replace(product, parts=(base, replace(plate, features=features)))
    alone = replace(mate, pairs=mate.pairs[:1])
    np.testing.assert_allclose(
        home_in(product, mate, {"base": np.eye(4)}), home_in(product, alone, {"base": np.eye(4)}), atol=1e-12
    )


def test_parts_are_placed_in_any_order_of_the_file() -> None:
    product = first_fit()
    backwards = replace(product, mates=product.mates[::-1])
    for part, pose in assembled_poses(product).items():
        np.testing.assert_allclose(assembled_poses(backwards)[part], pose, atol=1e-12)


def test_parts_that_wait_for_each_other_are_named() -> None:
    product = first_fit()
    pin, cover, screw = product.mates
    ring = replace(pin, pairs=(FeaturePair("tip", "cover", "pin_hole"),))
    with pytest.raises(HomeError, match="these wait for each other: pin-in-bore, cover-on-block"):
        assembled_poses(replace(product, mates=(ring, cover, screw)))


@pytest.mark.parametrize(
    ("mate", "axis"),
    [("pin-in-bore", (0, 0, -1)), ("cover-on-block", (0, 0, -1)), ("cover-screw", (0, 0, -1))],
)
def test_every_part_of_the_example_goes_down(mate: str, axis: tuple[int, ...]) -> None:
    """Pin and screw out of their tips; the cover against the z of its hole, into which the pin goes."""
    product = first_fit()
    np.testing.assert_allclose(motion_axis(product, product.mate(mate)), axis, atol=1e-12)


@pytest.mark.parametrize(
    ("kind", "internal", "sign"),
    [("shaft", True, 1), ("face", True, 1), ("gear", True, 1), ("ring", True, 1), ("thread", False, 1),
     ("thread", True, -1), ("hole", True, -1), ("slot", True, -1), ("groove", True, -1)],
)  # fmt: skip
def test_what_points_out_leads_and_what_points_in_follows(kind: str, internal: bool, sign: int) -> None:
    T = drawn(np.random.default_rng(5))
    feature = Feature("f", kind, Pose.from_matrix(T), internal=internal)  # type: ignore[arg-type]
    product = Product("base", (Part("part", (), (feature,), 1.0),), ())
    mate = Mate("m", "insert", "part", "base", (FeaturePair("f", "base", "g"),))
    np.testing.assert_allclose(motion_axis(product, mate), sign * T[:3, 2], atol=1e-12)


@pytest.mark.parametrize("drive", [0.0, 3.0, -7.5, 10.0, 131.0])
def test_the_idler_meshes_with_the_drive_gear_however_that_stands(drive: float) -> None:
    """By the drawn teeth: in mesh they share nothing; half a pitch on, they do."""
    product, folder = pump()
    mate = product.mate("idler-gear-in-mesh")
    poses = assembled_poses(product)
    drawn_home = poses["idler_gear"]
    poses["drive_gear"] = poses["drive_gear"] @ se3.rotation(Z, np.deg2rad(drive))
    home = home_in(product, mate, poses)
    turned = se3.log(se3.inverse(drawn_home) @ home)
    assert turned[:5] == pytest.approx([0] * 5, abs=1e-9)
    assert abs(turned[5]) <= np.pi / 18 + 1e-9  # no farther than half a pitch of 18 teeth
    assert shared(product, folder, poses["drive_gear"], home) < 1e-5
    assert shared(product, folder, poses["drive_gear"], home @ se3.rotation(Z, np.pi / 18)) > 1e-4


def test_gears_of_other_sizes_and_a_line_of_centres_of_any_direction_mesh_too() -> None:
    """A tooth of one and the gap of the other meet on the line of centres: counted by their angles."""
    rng = np.random.default_rng(8)
    for _ in range(50):
        fixed, moving = (int(n) for n in rng.integers(8, 60, 2))
        about, roll, drive = rng.uniform(-np.pi, np.pi, 3)
        apart = 0.5e-3 * (fixed + moving)
        bore = se3.rotation(Z, about) @ se3.translation(apart, 0, 0) @ se3.rotation(Z, roll)
        wheel = Feature("wheel", "gear", Pose.from_matrix(se3.rotation(Z, drive)), teeth=fixed, module=1e-3)
        hole = Feature("hole", "hole", Pose.from_matrix(bore @ se3.rotation(X, np.pi)))
        shaft = Feature("shaft", "shaft", Pose.from_matrix(se3.rotation(X, np.pi)))
        pinion = Feature("pinion", "gear", Pose(), teeth=moving, module=1e-3)
        mate = Mate(
            "mesh", "gear-mesh", "pinion", "base",
            (FeaturePair("shaft", "base", "hole"), FeaturePair("pinion", "base", "wheel")),
        )  # fmt: skip
        product = Product(
            "base", (Part("base", (), (wheel, hole), 1.0), Part("pinion", (), (shaft, pinion), 1.0)), (mate,)
        )
        T = home_in(product, mate, {"base": np.eye(4)})
        assert T[:3, 3] == pytest.approx(bore[:3, 3], abs=1e-12)
        own = np.arctan2(T[1, 0], T[0, 0])
        tooth = (about - drive) / (2 * np.pi / fixed)  # pitches from a tooth of the wheel to the line
        gap = (about + np.pi - own) / (2 * np.pi / moving) - 0.5  # and from a gap of the pinion
        assert (tooth + gap + 0.5) % 1 == pytest.approx(0.5, abs=1e-9)


def pump() -> tuple[Product, str]:
    folder = Path(__file__).parents[2] / "projects" / "dosing-pump"
    project, _ = read_project(folder)
    assert project is not None
    return project.product, str(folder)


def shared(product: Product, folder: str, T_drive: Array, T_idler: Array) -> float:
    """How deep [m] the two drawn gears reach into each other."""
    drive, idler = product.part("drive_gear"), product.part("idler_gear")
    return overlap_depth(drive.solids, T_drive, idler.solids, T_idler, folder)
