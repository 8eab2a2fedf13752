"""Arms from the lengths of a data sheet, against a URDF, a published table and pinocchio."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from handfast import _kernel
from handfast.kinematics.chain import ArmError, load_chain
from handfast.kinematics.forward import forward, kernel_arm
from handfast.model.arm import Arm
from handfast.model.layout import LayoutKind
from handfast.spatial import se3
from handfast.spatial.pose import Pose

from .layouts import FIRST_FIT, PARALLEL, PARALLEL_DH, arm, drawn
from .urdf import FIRST_FIT as PROJECT
from .urdf import Joint, by_pinocchio, written

BASE = Pose((0.3, -0.2, 0.1), (0.5, 0.5, -0.5, 0.5))
KINDS: tuple[LayoutKind, ...] = ("spherical-wrist", "three-parallel")


def test_first_fits_arm_by_its_lengths_is_its_urdf() -> None:
    chain = load_chain(arm(FIRST_FIT), "")
    names = tuple(f"joint_{i}" for i in range(1, 7))
    for q in np.random.default_rng(0).uniform(-3, 3, (50, 6)):
        expected = by_pinocchio(PROJECT / "arms" / "arm.urdf", "base", "flange", names, q)
        np.testing.assert_allclose(forward(chain, q)[0], expected, atol=1e-12)


def test_three_parallel_axes_by_the_makers_table() -> None:
    chain = load_chain(arm(PARALLEL), "")
    T_base_maker = se3.fixed_xyz(0, 0, np.pi)
    for q in np.random.default_rng(1).uniform(-3, 3, (50, 6)):
        expected = T_base_maker.copy()
        for (d, a, alpha), angle in zip(PARALLEL_DH, q, strict=True):
            expected = expected @ se3.fixed_xyz(0, 0, angle) @ se3.translation(a, 0, d)
            expected = expected @ se3.fixed_xyz(alpha, 0, 0)
        np.testing.assert_allclose(forward(chain, q)[0][:3, 2:], expected[:3, 2:], atol=1e-12)


def upright(kind: LayoutKind, seed: int) -> tuple[Arm, str]:
    """An arm by its lengths, and the same written as a URDF by hand."""
    layout = drawn(np.random.default_rng(seed), kind)
    zero, minus = layout.zero, [-1.0 if i in layout.reversed else 1.0 for i in range(1, 7)]
    z, y = (0.0, 0.0, 1.0), (0.0, 1.0, 0.0)
    ball = kind == "spherical-wrist"
    steps = [
        (z, (0, 0, 0)),
        (y, (layout.shoulder_offset, 0, layout.shoulder_height)),
        (y, (0, 0, layout.upper_arm)),
        (z, (-layout.elbow_offset, 0, 0)) if ball else (y, (0, 0, layout.forearm)),
        (y, (0, 0, layout.forearm)) if ball else (z, (0, layout.wrist_side, 0)),
        (z, (0, 0, 0)) if ball else (y, (0, 0, layout.wrist)),
    ]
    joints = [
        Joint(xyz=at, rpy=tuple(v * zero[i] for v in axis), axis=tuple(v * minus[i] for v in axis))
        for i, (axis, at) in enumerate(steps)
    ]
    at, turned = ((0, 0, layout.flange), (0, 0, 0)) if ball else ((0, layout.flange, 0), (-np.pi / 2, 0, 0))
    return arm(layout, BASE), written([*joints, Joint("fixed", at, turned)])


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seed", range(5))
def test_any_lengths_zeros_and_directions_by_a_urdf_of_the_same(
    kind: LayoutKind, seed: int, tmp_path: Path
) -> None:
    by_lengths, text = upright(kind, seed)
    (tmp_path / "arm.urdf").write_text(text)
    chain = load_chain(by_lengths, "")
    names = tuple(f"j{i}" for i in range(1, 7))
    for q in np.random.default_rng(seed).uniform(-3, 3, (20, 6)):
        expected = BASE.matrix @ by_pinocchio(tmp_path / "arm.urdf", "l0", "l7", names, q)
        np.testing.assert_allclose(forward(chain, q)[0], expected, atol=1e-12)


@pytest.mark.parametrize("kind", KINDS)
def test_the_kernel_knows_their_structure(kind: LayoutKind) -> None:
    for seed in range(5):
        chain = load_chain(arm(drawn(np.random.default_rng(seed), kind)), "")
        assert _kernel.structure(kernel_arm(chain)) == kind


def test_home_has_six_angles() -> None:
    short = Arm("left", "", "base", "flange", Pose(), (0.0,) * 5, (5.0,) * 6, layout=FIRST_FIT)
    with pytest.raises(ArmError, match="arm 'left': home needs 6 values, one per joint, found 5"):
        load_chain(short, "")
