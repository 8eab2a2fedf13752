"""Stations: the straight lines of a hand on every arm branch, against forward kinematics."""

from __future__ import annotations

import numpy as np

from handfast.geometry.body import body, distance
from handfast.kinematics.forward import forward, forward_links
from handfast.motion.timing import at
from handfast.planning.failure import Failure
from handfast.planning.pick import pick_grips
from handfast.planning.station import beyond_reach, line_motion, reachable, stations
from handfast.planning.workspace import Workspace
from handfast.spatial import se3


def drawn(ws: Workspace, count: int, seed: int) -> list[tuple[str, np.ndarray]]:
    """Hands and grip poses that they reach at some configuration."""
    rng = np.random.default_rng(seed)
    out = []
    for i in range(count):
        hand = ("left", "right")[i % 2]
        chain = ws.hands[hand].chain
        out.append((hand, ws.hands[hand].grip(rng.uniform(chain.lower, chain.upper))))
    return out


def test_every_line_goes_through_its_grip_poses_on_one_branch(workspace: Workspace) -> None:
    start, seen = workspace.start(), 0
    for hand, T in drawn(workspace, 40, 0):
        h, grips = workspace.hands[hand], pick_grips(T)
        for lines in stations(workspace, start, hand, grips, h.chain.home):
            if isinstance(lines, Failure):
                continue
            seen += 1
            assert len(lines) == 2
            for line, a, b in zip(lines, grips[:-1], grips[1:], strict=True):
                ends = forward(h.chain, line[[0, -1]]) @ h.mount
                np.testing.assert_allclose(ends, [a, b], atol=1e-8)
                points = (forward(h.chain, line) @ h.mount)[:, :3, 3]
                way = (b - a)[:3, 3] / np.linalg.norm((b - a)[:3, 3])
                assert np.linalg.norm(np.cross(points - a[:3, 3], way), axis=1).max() < 1e-8
                assert np.abs(np.diff(line, axis=0)).max() <= 0.25
            np.testing.assert_array_equal(lines[0][-1], lines[1][0])
    assert seen > 20


def test_branches_nearest_to_where_the_arm_stands_come_first(workspace: Workspace) -> None:
    start, compared = workspace.start(), 0
    for hand, T in drawn(workspace, 20, 1):
        near = workspace.hands[hand].chain.home
        every = stations(workspace, start, hand, pick_grips(T), near)
        way = [np.abs(lines[0][0] - near).max() for lines in every if not isinstance(lines, Failure)]
        assert way == sorted(way)
        compared += len(way) > 1
    assert compared > 3


def test_a_coarse_look_refuses_nothing_that_works(workspace: Workspace) -> None:
    """A no from it counts as proven."""
    start, found = workspace.start(), 0
    for hand, T in drawn(workspace, 300, 2):
        near = workspace.hands[hand].chain.home
        fine, coarse = (
            [
                s
                for s in stations(workspace, start, hand, pick_grips(T), near, coarse=c)
                if not isinstance(s, Failure)
            ]
            for c in (False, True)
        )
        assert len(coarse) >= len(fine)
        found += bool(fine)
    assert found > 100


def test_what_is_out_of_reach_is_told_with_the_way_that_is_missing(workspace: Workspace) -> None:
    """Along the shoulder's own axis the wrist misses what the distance exceeds the stretched arm by, at
    most."""
    h = workspace.hands["left"]
    far = se3.translation(-0.5, 3.0, 0.3)
    (failure,) = stations(workspace, workspace.start(), "left", pick_grips(far), h.chain.home)
    assert isinstance(failure, Failure)
    assert failure.cause == "out of reach"
    assert 3.0 - 1.3 < beyond_reach(h, far) < 3.0
    assert not reachable(h, far[None])[0]
    assert reachable(h, h.grip(h.chain.home)[None])[0]


def test_links_stay_clear_of_everything_along_the_lines(workspace: Workspace) -> None:
    """By the exact shapes of links and cell; the other branches are told to collide."""
    start, kept, hit = workspace.start(), 0, 0
    for hand, T in drawn(workspace, 60, 3):
        chain, folder = workspace.hands[hand].chain, workspace.hands[hand].folder
        links = [
            (i, body(f"link {i}", tuple(s for link, s in chain.solids if link == i), folder))
            for i in range(1, chain.n + 1)
        ]
        for lines in stations(workspace, start, hand, pick_grips(T), chain.home):
            if isinstance(lines, Failure):
                hit += lines.cause == "collision on the way"
                continue
            kept += 1
            for frames in forward_links(chain, np.concatenate(lines)[::8]):
                for i, link in links:
                    for other in workspace.fixed:
                        assert distance(link, frames[i + 1], other.body, other.T_world_body, 0.001) > 0
    assert kept > 20
    assert hit > 20


def test_a_line_is_run_no_faster_than_it_is_told(workspace: Workspace) -> None:
    start, h = workspace.start(), workspace.hands["left"]
    T = h.grip(h.chain.home)
    grips = [T, se3.translation(0, 0, -0.08) @ T]
    (line,) = next(
        s for s in stations(workspace, start, "left", grips, h.chain.home) if not isinstance(s, Failure)
    )
    motion = line_motion(h, line, grips[0], grips[1], 0.1)
    times = np.linspace(0, motion.duration, 4000)
    hand = (forward(h.chain, at(motion, times)) @ h.mount)[:, :3, 3]
    speed = np.linalg.norm(np.diff(hand, axis=0), axis=1) / np.diff(times)
    assert 0.09 < speed.max() < 0.1001
    assert motion.duration > 0.08 / 0.1
    assert motion.path == "line"


def test_a_branch_without_room_at_its_first_pose_is_not_gone_along(workspace: Workspace) -> None:
    """Of all branches only those that `room` lets through are given, the same lines as without it."""
    start, seen = workspace.start(), 0
    for hand, T in drawn(workspace, 20, 7):
        near = workspace.hands[hand].chain.home
        every = list(stations(workspace, start, hand, pick_grips(T), near))
        no, asked = Failure("collision on the way", "no room"), list[np.ndarray]()

        def room(q: np.ndarray, asked: list[np.ndarray] = asked, no: Failure = no) -> Failure | None:
            asked.append(q)
            return no if len(asked) % 2 else None

        found = list(stations(workspace, start, hand, pick_grips(T), near, room=room))
        if not asked:
            continue
        assert len(found) == len(every) == len(asked)
        for i, (ours, all_) in enumerate(zip(found, every, strict=True)):
            if i % 2 == 0:
                assert ours is no
            elif isinstance(all_, Failure):
                assert ours == all_
            else:
                assert not isinstance(ours, Failure)
                np.testing.assert_array_equal(np.concatenate(ours), np.concatenate(all_))
                seen += 1
    assert seen > 3
