"""Motions that are to be kept, tested again against what is not as it was when they were planned."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast import _kernel
from handfast.model.motion import Motion
from handfast.motion.timing import at
from handfast.planning.clear_line import Block, Standing, blocked
from handfast.planning.connect import FINE, LOOK
from handfast.planning.state import State
from handfast.planning.workspace import Workspace
from handfast.spatial.se3 import Array


@dataclass(frozen=True, eq=False, slots=True)
class Differing:
    """What stands otherwise, or has another shape, while a hand moves: items and what never moves by name,
    other hands by name."""

    items: frozenset[str]
    fixed: frozenset[str]
    hands: frozenset[str]

    def __bool__(self) -> bool:
        return bool(self.items or self.fixed or self.hands)


def still_clear(ws: Workspace, state: State, motion: Motion, differing: Differing) -> bool:
    """Whether a motion keeps from what differs the clearance that it was planned with: a free one the
    free-space clearance by the covers, a line that of exact shapes, and its links by their covers."""
    hand, q = motion.arm, np.array(motion.q)
    world = _covers(ws, state, differing)
    if motion.path == "free":
        way = at(motion, np.arange(0.0, motion.duration + LOOK, LOOK))
        cover = ws.hand_cover(state, hand)
        return bool(
            _kernel.edge_free(cover, world, way[:-1], way[1:], margin=ws.margin, resolution=FINE).all()
        )
    if not _kernel.free(ws.hand_cover(state, hand, reach=False), world, q).all():
        return False
    begin, end = (ws.hands[hand].grip(one) for one in (q[0], q[-1]))
    standing = Standing(_exact(ws, state, differing))
    return blocked(ws.moving(state, hand), standing, begin, end[:3, 3] - begin[:3, 3], memo=ws.memo) is None


def _covers(ws: Workspace, state: State, differing: Differing) -> _kernel.World:
    poses: list[Array] = [np.zeros((0, 4, 4))]
    halves: list[Array] = [np.zeros((0, 3))]
    spheres: list[Array] = [np.zeros((0, 4))]
    for name, box_poses, box_halves in ws.fixed_boxes:
        if name in differing.fixed:
            poses.append(box_poses)
            halves.append(box_halves)
    for name in sorted(differing.items):
        box_poses, box_halves = ws.boxes(name, ws.pose(state, name))
        poses.append(box_poses)
        halves.append(box_halves)
    for name in sorted(differing.hands):
        spheres.append(_kernel.spheres_at(ws.hand_cover(state, name), state.q[name][None])[0])
    return _kernel.World(
        box_poses=np.concatenate(poses), box_halves=np.concatenate(halves), spheres=np.concatenate(spheres)
    )


def _exact(ws: Workspace, state: State, differing: Differing) -> list[Block]:
    out = [block for block in ws.fixed if block.body.name in differing.fixed]
    out += [ws.block(ws.items[name].exact, ws.pose(state, name)) for name in sorted(differing.items)]
    for name in sorted(differing.hands):
        out += ws.hand_blocks(state, name)
    return out
