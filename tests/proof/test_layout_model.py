"""The proof's own reading of an arm's lengths, against the planner's: two ways to the same arm."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from tests.kinematics.layouts import FIRST_FIT, PARALLEL, arm, drawn

from handfast.kinematics.chain import load_chain
from handfast.kinematics.forward import forward, forward_links
from handfast.model.layout import Layout
from handfast.proof.arm_model import load_arm
from handfast.spatial.pose import Pose

BASE = Pose((0.3, -0.2, 0.1), (0.5, 0.5, -0.5, 0.5))
DRAWN = [
    drawn(np.random.default_rng(seed), kind)
    for seed in range(4)
    for kind in ("spherical-wrist", "three-parallel")
]


@pytest.mark.parametrize("layout", [FIRST_FIT, PARALLEL, *DRAWN])
def test_planner_and_proof_see_the_same_arm(layout: Layout) -> None:
    chain, model = load_chain(arm(layout, BASE), ""), load_arm(arm(layout, BASE), Path())
    np.testing.assert_allclose(model.lower, chain.lower)
    np.testing.assert_allclose(model.upper, chain.upper)
    np.testing.assert_allclose(model.velocity, chain.velocity)
    for q in np.random.default_rng(2).uniform(-3, 3, (20, 6)):
        joints = model.joint_poses(q)
        np.testing.assert_allclose(joints[-1] @ model.T_joint_tip, forward(chain, q)[0], atol=1e-12)
        mine = forward_links(chain, q)[0]
        np.testing.assert_allclose(joints, mine[:-1], atol=1e-12)
    assert chain.solids
    assert sum(len(pieces) for _, _, pieces in model.links) == len(chain.solids)


@pytest.mark.parametrize("layout", [FIRST_FIT, PARALLEL])
def test_links_that_are_no_neighbours_are_apart_when_upright(layout: Layout) -> None:
    from handfast.proof.exact import distance

    model = load_arm(arm(layout), Path())
    # Upright in the lengths' own angles, bent at the elbow as arms stand.
    q = np.array([0, -0.2, 1.2, 0.2, 0.5, 0]) - np.array(layout.zero)
    joints = model.joint_poses(q)
    for _, a, mine in model.links:
        for _, b, theirs in model.links:
            if b >= a + 2:
                for p in mine:
                    for o in theirs:
                        T_p, T_o = joints[a] @ p.T_body_shape, joints[b] @ o.T_body_shape
                        assert distance(p.geometry, T_p, o.geometry, T_o) > 0.005, (a, b)
