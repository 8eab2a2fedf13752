"""A corrected motion is judged by what it would really run into."""

from __future__ import annotations

import numpy as np
import pytest
from tests.execution.test_moved import BORE, between
from tests.trials.bench_chart import bench_chart, bench_project

from handfast.execution.rehearsal import ready_at
from handfast.kinematics.chain import load_chain
from handfast.motion.correct import corrected
from handfast.proof.bodies import load_bodies
from handfast.proof.moved_motion import surroundings, would_meet
from handfast.proof.standing import Hold, Standing
from handfast.spatial import se3

NUMBER = 7  # the element that leads the pin to above its bore


def test_joint_poses_of_many_are_those_of_each_by_pinocchio() -> None:
    rng = np.random.default_rng(1)
    for arm in load_bodies(bench_project()).arms.values():
        q = rng.uniform(-3, 3, (50, arm.joints))
        np.testing.assert_allclose(arm.joint_poses_along(q), [arm.joint_poses(row) for row in q], atol=1e-12)


@pytest.mark.parametrize(("aside", "meets"), [(0.9e-3, None), (1.1e-3, ("right.palm", "right post"))])
def test_posts_a_millimetre_beside_the_palm(aside: float, meets: tuple[str, str] | None) -> None:
    project = bench_project()
    chart = bench_chart(project)
    ready = ready_at(project, chart, NUMBER)
    parents = {a.item: (a.parent, a.pose.matrix) for a in ready.scene.attachments}
    holds = {arm: Hold(item, parents[item][1], 2) for arm, item in ready.holding.items()}
    there = Standing(parents, {a: np.array(q) for a, q in ready.q.items()}, dict(ready.widths), holds)
    element, chain = chart.elements[NUMBER - 1], load_chain(project.cell.arm("right"), project.folder)
    motion = corrected(chain, element.motions[0], se3.exp(np.array([0.0, aside, 0.0, 0.0, 0.0, 0.0])))
    around = surroundings(between(project, BORE, 1e-3))
    found = would_meet(around, there, element, motion, beside_held={"block"})
    assert (None if found is None else (found.a, found.b)) == meets
