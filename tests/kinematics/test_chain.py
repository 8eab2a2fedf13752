"""Chains read from URDFs, against pinocchio's reader and the published values of a textbook arm."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pinocchio as pin
import pytest

from handfast import _kernel
from handfast.kinematics.chain import load_chain
from handfast.kinematics.forward import forward, forward_links, kernel_arm
from handfast.model.shape import Box, Cylinder, Mesh, Sphere
from handfast.spatial import se3
from handfast.spatial.pose import Pose

from .urdf import FIRST_FIT, Joint, arm, by_pinocchio, placed, textbook, written

BASE = Pose((0.3, -0.2, 0.1), (0.5, 0.5, -0.5, 0.5))


def drawn_urdf(rng: np.random.Generator) -> tuple[str, int, int]:
    """A chain of revolute, continuous and fixed joints, fixed ones in the middle, with crooked axes and
    origins."""
    kinds = ["revolute", "fixed", *rng.choice(["revolute", "continuous", "fixed"], 5), "continuous"]
    joints = [
        Joint(
            str(kind),
            tuple(rng.uniform(-0.4, 0.4, 3)),
            tuple(rng.uniform(-3, 3, 3)),
            None if i == 0 else tuple(rng.normal(size=3) * 3),
        )
        for i, kind in enumerate(kinds)
    ]
    return written(joints), len(joints), sum(k != "fixed" for k in kinds)


@pytest.mark.parametrize("seed", range(12))
def test_any_chain_ends_where_pinocchio_says(seed: int, tmp_path: Path) -> None:
    rng = np.random.default_rng(seed)
    text, links, n = drawn_urdf(rng)
    (tmp_path / "arm.urdf").write_text(text)
    chain = load_chain(arm("arm.urdf", f"l{links}", n, base=BASE), str(tmp_path))
    assert chain.n == n
    for q in rng.uniform(-3, 3, (20, n)):
        expected = BASE.matrix @ by_pinocchio(tmp_path / "arm.urdf", "l0", f"l{links}", chain.joints, q)
        np.testing.assert_allclose(forward(chain, q)[0], expected, atol=1e-12)


@pytest.mark.parametrize("seed", range(3))
def test_a_chain_may_begin_and_end_inside_the_urdf(seed: int, tmp_path: Path) -> None:
    rng = np.random.default_rng(seed)
    text, _, _ = drawn_urdf(rng)
    (tmp_path / "arm.urdf").write_text(text)
    inner = [
        j
        for j in pin.buildModelFromUrdf(str(tmp_path / "arm.urdf")).names[2:]
        if j in ("j3", "j4", "j5", "j6")
    ]
    chain = load_chain(arm("arm.urdf", "l6", len(inner), root="l2"), str(tmp_path))
    assert list(chain.joints) == inner
    q = rng.uniform(-3, 3, len(inner))
    expected = by_pinocchio(tmp_path / "arm.urdf", "l2", "l6", chain.joints, q)
    np.testing.assert_allclose(forward(chain, q)[0], expected, atol=1e-12)


def test_first_fits_arm_by_pinocchio() -> None:
    chain = load_chain(arm("arms/arm.urdf", "flange", 6, root="base"), str(FIRST_FIT))
    model = pin.buildModelFromUrdf(str(FIRST_FIT / "arms" / "arm.urdf"))
    np.testing.assert_allclose(chain.lower, model.lowerPositionLimit)
    np.testing.assert_allclose(chain.upper, model.upperPositionLimit)
    np.testing.assert_allclose(chain.velocity, model.velocityLimit)
    for q in np.random.default_rng(0).uniform(chain.lower, chain.upper, (50, 6)):
        expected = by_pinocchio(FIRST_FIT / "arms" / "arm.urdf", "base", "flange", chain.joints, q)
        np.testing.assert_allclose(forward(chain, q)[0], expected, atol=1e-12)


def test_the_speed_share_slows_every_joint() -> None:
    slow = arm("arms/arm.urdf", "flange", 6, root="base")
    slow = type(slow)(**{**{f: getattr(slow, f) for f in slow.__slots__}, "speed": 0.5})
    whole = load_chain(arm("arms/arm.urdf", "flange", 6, root="base"), str(FIRST_FIT))
    np.testing.assert_allclose(load_chain(slow, str(FIRST_FIT)).velocity, whole.velocity / 2)


# Corke's six-axis arm (Paul & Zhang 1986): where the tip stands [m].
PUBLISHED = [
    ((0, 0, 0, 0, 0, 0), (0.4521, -0.15005, 0.4318)),
    ((0, 90, -90, 0, 0, 0), (0.0203, -0.15005, 0.8636)),
    ((0, 45, 180, 0, 45, 0), (0.596303, -0.15005, -0.014354)),
]


@pytest.mark.parametrize(("degrees", "position"), PUBLISHED)
def test_the_textbook_arm_stands_where_it_is_published_to(
    degrees: tuple[float, ...], position: tuple[float, ...], tmp_path: Path
) -> None:
    (tmp_path / "arm.urdf").write_text(textbook())
    chain = load_chain(arm("arm.urdf", "l7", 6), str(tmp_path))
    np.testing.assert_allclose(forward(chain, np.deg2rad(degrees))[0, :3, 3], position, atol=1e-6)


def test_the_textbook_arms_manipulability(tmp_path: Path) -> None:
    (tmp_path / "arm.urdf").write_text(textbook())
    chain = load_chain(arm("arm.urdf", "l7", 6), str(tmp_path))
    J = _kernel.jacobian(kernel_arm(chain), np.deg2rad([[0, 45, 180, 0, 45, 0]]))[0]
    assert np.sqrt(np.linalg.det(J @ J.T)) == pytest.approx(0.0786, abs=5e-5)  # Yoshikawa's measure, Corke


def collision(geometry: str, origin: str = "") -> str:
    return f"<collision>{origin}<geometry><{geometry}/></geometry></collision>"


BOX = collision('box size="0.1 0.2 0.3"', '<origin xyz="0.01 0.02 0.03" rpy="0.3 0.2 0.1"/>')
ROD = collision('cylinder radius="0.05" length="0.4"')
BALL = collision('sphere radius="0.07"', '<origin xyz="0 0 0.1"/>')
HUNG = (  # whatever hangs on the chain moves along; joints off the chain, such as fingers, stand at zero
    f'<link name="bracket">{BOX}{BALL}</link><joint name="hang" type="fixed"><parent link="l2"/>'
    '<child link="bracket"/><origin xyz="0 0.1 0" rpy="0 0 1"/></joint>'
    f'<link name="finger">{BALL}</link><joint name="slide" type="prismatic">'
    '<parent link="l4"/><child link="finger"/><axis xyz="1 0 0"/>'
    '<limit lower="0" upper="1" velocity="1" effort="1"/></joint>'
)


def test_every_solid_of_the_chain_stands_where_pinocchio_puts_it(tmp_path: Path) -> None:
    joints = [
        Joint(xyz=(0, 0, 0.2), rpy=(0.4, 0, 0.1), solid=BOX),
        Joint("fixed", (0.1, 0, 0), (0, 0.7, 0), solid=ROD + BALL),
        Joint("continuous", (0, 0.3, 0), axis=(1, 2, 3), solid=BALL),
        Joint("fixed", (0, 0, 0.1), (0.2, 0.1, 0), solid=BOX),
    ]
    path = tmp_path / "arm.urdf"
    path.write_text(written(joints, HUNG, base=ROD))
    chain = load_chain(arm("arm.urdf", "l4", 2), str(tmp_path))
    model = pin.buildModelFromUrdf(str(path))
    shapes = pin.buildGeomFromUrdf(model, str(path), pin.GeometryType.COLLISION)
    q = np.array([0.7, -1.1])
    data, geometry = model.createData(), shapes.createData()
    pin.updateGeometryPlacements(model, data, shapes, geometry, placed(model, chain.joints, q))
    links = forward_links(chain, q)[0]
    mine = sorted(
        (type(s.shape).__name__, *np.round((links[i + 1] @ s.pose.matrix).ravel(), 9))
        for i, s in chain.solids
    )
    theirs = sorted(
        (type(o.geometry).__name__, *np.round(geometry.oMg[i].homogeneous.ravel(), 9))
        for i, o in enumerate(shapes.geometryObjects)
    )
    assert len(mine) == 9
    assert [m[0] for m in mine] == [t[0] for t in theirs]
    np.testing.assert_allclose([m[1:] for m in mine], [t[1:] for t in theirs], atol=1e-8)
    sizes = {s.shape for _, s in chain.solids}
    assert sizes == {Box((0.1, 0.2, 0.3)), Cylinder(0.05, 0.4), Sphere(0.07)}


def test_the_solids_of_the_tip_are_a_link_of_their_own(tmp_path: Path) -> None:
    joints = [Joint(solid=ROD), Joint("fixed", (0, 0, 0.1), (0, 0.2, 0), solid=BOX)]
    (tmp_path / "arm.urdf").write_text(written(joints))
    chain = load_chain(arm("arm.urdf", "l2", 1), str(tmp_path))
    assert [(i, type(s.shape)) for i, s in chain.solids] == [(0, Cylinder), (1, Box)]
    expected = se3.translation(0.01, 0.02, 0.03) @ se3.fixed_xyz(0.3, 0.2, 0.1)
    np.testing.assert_allclose(chain.solids[1][1].pose.matrix, expected, atol=1e-12)


def test_what_stands_below_the_root_belongs_to_the_arm(tmp_path: Path) -> None:
    path = tmp_path / "arm.urdf"
    path.write_text(written([Joint(xyz=(0, 0, 0.2), rpy=(0.4, 0, 0.1)), Joint(xyz=(0.3, 0, 0))], base=BOX))
    chain = load_chain(arm("arm.urdf", "l2", 1, root="l1"), str(tmp_path))
    ((link, solid),) = chain.solids
    assert link == -1
    pedestal = by_pinocchio(path, "l1", "l0", ("j1",), np.zeros(1))
    expected = pedestal @ se3.translation(0.01, 0.02, 0.03) @ se3.fixed_xyz(0.3, 0.2, 0.1)
    np.testing.assert_allclose(solid.pose.matrix, expected, atol=1e-12)


def test_meshes_are_found_beside_the_urdf(tmp_path: Path) -> None:
    mesh = collision('mesh filename="../shapes/a.stl" scale="0.001 0.001 0.001"')
    (tmp_path / "arms").mkdir()
    (tmp_path / "arms" / "arm.urdf").write_text(written([Joint(solid=mesh)]))
    chain = load_chain(arm("arms/arm.urdf", "l1", 1), str(tmp_path))
    assert chain.solids[0][1].shape == Mesh(str((tmp_path / "shapes" / "a.stl").resolve()), 0.001)
