"""An arm does not run into itself where the covers of its links overlap: exact shapes and the proof."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from handfast.checking.checked_project import CheckedProject
from handfast.geometry.body import distance
from handfast.kinematics.forward import forward_links
from handfast.model.hose import Hose
from handfast.model.no_plan import NoPlan
from handfast.model.project import Project
from handfast.model.shape import Box, Solid
from handfast.planning import plan as search_plan
from handfast.planning.clear_line import NEAR
from handfast.planning.hand import link_bodies
from handfast.planning.own_links import own_hit
from handfast.planning.workspace import make_workspace
from handfast.spatial.pose import Pose
from handfast.workflow import plan, verify

from .conftest import SEED, certified


def with_whip(project: Project, arm: str, x: float, y: float) -> Project:
    """A stiff hose at the wrist, beside the palm: the corners of the palm pass it at some rolls only."""
    whip = Hose("whip", "wrist_bend", (Solid(Box((0.006, 0.006, 0.08)), Pose((x, y, 0.12))),))
    arms = tuple(replace(a, hoses=(whip,)) if a.name == arm else a for a in project.cell.arms)
    return replace(project, cell=replace(project.cell, arms=arms))


def test_paths_against_every_sample(first_fit: CheckedProject) -> None:
    """Random straight joint paths: a hit where any of 2000 samples has one, and only there."""
    ws = make_workspace(with_whip(first_fit.project, "left", 0.038, 0.038))
    state, hand, rng = ws.start(), ws.hands["left"], np.random.default_rng(5)
    wrist = dict(link_bodies(hand))[4]
    told = []
    for _ in range(40):
        a, b = rng.uniform(hand.chain.lower, hand.chain.upper, (2, 6)) * [1, 1, 1, 1, 1, 0.3]
        path = a + np.linspace(0, 1, 2000)[:, None] * (b - a)
        frames = forward_links(hand.chain, path)
        gaps = [
            distance(body, f[7] @ hand.mount @ T, wrist, f[5], 0.2)
            for f in frames
            for body, T in ws.moving(state, "left")
        ]
        hit = own_hit(ws, state, "left", path)
        told.append(hit is not None)
        assert (hit is not None) == (min(gaps) < NEAR)
        if hit is not None:
            assert (hit.moving, hit.standing) == (
                "gripper left_gripper",
                "link of the left arm that joint_5 moves",
            )
    assert 5 < sum(told) < 35


@pytest.mark.slow
@pytest.mark.parametrize(("arm", "x", "y"), [("left", 0.038, 0.038), ("right", 0.053, 0.0)])
def test_a_hand_turns_clear_of_a_hose_at_its_wrist(
    first_fit: CheckedProject, arm: str, x: float, y: float
) -> None:
    checked = certified(with_whip(first_fit.project, arm, x, y))
    assert verify(checked.project, plan(checked, seed=SEED)).body.violations == ()


def test_an_arm_that_hits_itself_at_home_is_told_at_once(first_fit: CheckedProject) -> None:
    no = search_plan(certified(with_whip(first_fit.project, "left", 0.0, 0.05)), seed=SEED)
    assert isinstance(no, NoPlan)
    told = "left arm at home, gripper left_gripper on link of the left arm that joint_5 moves"
    assert any(told in c.nearest for c in no.causes)
