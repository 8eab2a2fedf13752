"""Motions that are to be kept, tested again against what is not as it was when they were planned."""

from __future__ import annotations

import numpy as np

from handfast import _kernel
from handfast.model.motion import Motion
from handfast.motion.timing import at
from handfast.planning.clear_line import Block, Standing, blocked
from handfast.planning.differing import Differing
from handfast.planning.own_links import own_hit
from handfast.planning.state import State
from handfast.planning.workspace import Workspace
from handfast.spatial.se3 import Array

LOOK, FINE = 0.01, 0.002  # a free way is looked at this often [s, m]
_CHORD, _COARSE = 0.06, 0.03  # the same for a first look from farther away [s, m]


def looked_at(motion: Motion) -> Array:
    """Postures (m, n) along a motion, LOOK apart."""
    return at(motion, np.arange(0.0, motion.duration + LOOK, LOOK))


def still_clear(ws: Workspace, state: State, motion: Motion, differing: Differing) -> bool:
    """Whether a motion keeps from what differs the clearance that it was planned with: a free one the
    free-space clearance by the covers, a line that of exact shapes, and its links by their covers."""
    hand, q = motion.arm, np.array(motion.q)
    world = covers(ws, state, differing)
    if motion.path == "free":
        return _far_from(ws, state, motion, world) or _edges(
            ws.hand_cover(state, hand), world, looked_at(motion), ws.margin, FINE
        )
    if not _kernel.free(ws.hand_cover(state, hand, reach=False), world, q).all():
        return False
    begin, end = (ws.hands[hand].grip(one) for one in (q[0], q[-1]))
    standing = Standing(_exact(ws, state, differing))
    return blocked(ws.moving(state, hand), standing, begin, end[:3, 3] - begin[:3, 3], memo=ws.memo) is None


def _far_from(ws: Workspace, state: State, motion: Motion, world: _kernel.World) -> bool:
    """Whether a free way keeps so far from everything that a few chords of it tell: a joint leaves a chord of
    `_CHORD` seconds by no more than an eighth of its acceleration times that squared."""
    cover, chain = ws.bare_cover(state, motion.arm), ws.hands[motion.arm].chain
    aside = chain.acceleration * _CHORD**2 / 8
    way = at(motion, np.arange(0.0, motion.duration + _CHORD, _CHORD))
    off = float(_kernel.travel(cover, np.zeros((1, chain.n)), aside[None])[0])
    return _edges(cover, world, way, ws.margin + off + _COARSE / 2, _COARSE)


def _edges(cover: _kernel.Cover, world: _kernel.World, way: Array, margin: float, step: float) -> bool:
    return bool(_kernel.edge_free(cover, world, way[:-1], way[1:], margin=margin, resolution=step).all())


def way_kept(ws: Workspace, motion: Motion, then: State, now: State) -> bool:
    """Whether a free way of an earlier chart still keeps its clearance; if what the hand carries is not the
    same, from everything, and the arm from itself."""
    hand = motion.arm
    differing = None if ws.old is None else ws.old.differing(then, now, hand)
    if differing is not None and then.widths[hand] == now.widths[hand]:
        return not differing or still_clear(ws, now, motion, differing)
    q, cover, world = looked_at(motion), ws.hand_cover(now, hand), ws.world(now, hand)
    return _edges(cover, world, q, ws.margin, FINE) and own_hit(ws, now, hand, q) is None


def covers(ws: Workspace, state: State, differing: Differing) -> _kernel.World:
    """What differs, as a hand meets it on its way."""
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
