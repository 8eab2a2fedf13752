from __future__ import annotations

import numpy as np
import pinocchio as pin
import pytest

from handfast import _kernel

from .arms import TEXTBOOK, chain_of, draws, kernel_arm, random_chain
from .twin import Chain, Floats


def pinocchio_tips(chain: Chain, q: Floats) -> tuple[Floats, Floats]:
    """Tip poses and Jacobians (world axes at the tip) by pinocchio."""
    model = pin.Model()
    parent = 0
    for i in range(chain.n):
        T = chain.placements[i] if i else chain.base @ chain.placements[0]
        parent = model.addJoint(
            parent, pin.JointModelRevoluteUnaligned(chain.axes[i]), pin.SE3(T), f"joint_{i}"
        )
    tip = model.addFrame(pin.Frame("tip", parent, 0, pin.SE3(chain.tip), pin.FrameType.OP_FRAME))
    data = model.createData()
    poses, jacobians = [], []
    for row in q:
        jacobians.append(
            pin.computeFrameJacobian(model, data, row, tip, pin.ReferenceFrame.LOCAL_WORLD_ALIGNED).copy()
        )
        pin.framesForwardKinematics(model, data, row)
        poses.append(data.oMf[tip].homogeneous)
    return np.array(poses), np.reshape(jacobians, (len(q), 6, chain.n))


@pytest.mark.parametrize(
    ("degrees", "tip"),
    [
        ((0, 0, 0, 0, 0, 0), (0.4521, -0.15005, 0.4318)),
        ((0, 90, -90, 0, 0, 0), (0.0203, -0.15005, 0.8636)),
        ((0, 45, 180, 0, 45, 0), (0.596303, -0.15005, -0.014354)),
    ],
)
def test_textbook_arm_reaches_its_published_points(
    degrees: tuple[float, ...], tip: tuple[float, ...]
) -> None:
    # Paul & Zhang, IJRR 5(2) 1986, and Corke's Robotics Toolbox: qz, qr, qn of the six-axis textbook arm.
    T = _kernel.fk(kernel_arm(chain_of(TEXTBOOK)), np.radians([degrees]))
    np.testing.assert_allclose(T[0, :3, 3], tip, atol=5e-7)


def test_textbook_arm_has_its_published_manipulability() -> None:
    # Corke, Robotics Toolbox: Yoshikawa's measure 0.0786 at qn.
    J = _kernel.jacobian(kernel_arm(chain_of(TEXTBOOK)), np.radians([[0, 45, 180, 0, 45, 0]]))[0]
    assert np.sqrt(np.linalg.det(J @ J.T)) == pytest.approx(0.0786, abs=5e-5)


@pytest.mark.parametrize("n", [1, 6, 7, 12])
def test_forward_agrees_with_pinocchio_on_arms_with_nothing_aligned(n: int) -> None:
    rng = np.random.default_rng(n)
    chain = random_chain(rng, n)
    q = draws(rng, chain, 50)
    poses, jacobians = pinocchio_tips(chain, q)
    np.testing.assert_allclose(_kernel.fk(kernel_arm(chain), q), poses, atol=1e-13)
    np.testing.assert_allclose(_kernel.jacobian(kernel_arm(chain), q), jacobians, atol=1e-13)


@pytest.mark.parametrize("n", [6, 7])
def test_every_link_agrees_with_the_twin(n: int) -> None:
    rng = np.random.default_rng(10 + n)
    chain = random_chain(rng, n)
    q = draws(rng, chain, 100) * 4  # several turns: the range reduction counts
    links = _kernel.fk_links(kernel_arm(chain), q)
    np.testing.assert_allclose(links, chain.links(q), atol=1e-13)
    np.testing.assert_array_equal(links[:, -1], _kernel.fk(kernel_arm(chain), q))


def test_jacobian_agrees_with_finite_differences() -> None:
    rng = np.random.default_rng(3)
    chain = random_chain(rng, 7)
    q = draws(rng, chain, 50)
    np.testing.assert_allclose(_kernel.jacobian(kernel_arm(chain), q), chain.jacobian(q), atol=1e-8)


def test_poses_stay_rigid() -> None:
    rng = np.random.default_rng(4)
    chain = random_chain(rng, 6)
    R = _kernel.fk(kernel_arm(chain), draws(rng, chain, 200))[:, :3, :3]
    np.testing.assert_allclose(R @ R.transpose(0, 2, 1), np.tile(np.eye(3), (200, 1, 1)), atol=1e-14)
