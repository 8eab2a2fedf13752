"""Free paths between stations."""

from __future__ import annotations

import numpy as np

from handfast import _kernel
from handfast.kinematics.chain import Chain
from handfast.model.motion import Motion
from handfast.motion.timing import timed
from handfast.planning.caps import ran_out
from handfast.planning.failure import Failure
from handfast.planning.own_links import on_itself, own_hit
from handfast.planning.retest import FINE, looked_at, way_kept
from handfast.planning.state import State
from handfast.planning.workspace import Workspace
from handfast.spatial.se3 import Array

RESOLUTION = 0.008  # how far a sphere may travel between samples [m]
ROOM = RESOLUTION / 2  # so much more than the clearance is asked of a sample [m]
_CORNERS = (0.02, 0.005, 0.001, 1e-5)  # how far corners are cut, the largest first [rad]
_A_TRY = 10  # steps of a path search are about as much work as one posture with its lines
# Where the arm runs into itself on the way: whether detours are cut, and what is added to the seed.
_TRIES = ((True, 0), (False, 0), (False, 1), (False, 2))


def roomy(ws: Workspace, state: State, hand: str, q: Array) -> Failure | None:
    """None if a hand at q (n,) keeps the free-space clearance, gripper and load included, from itself too."""
    own = None if (near := clear_of_others(ws, state, hand, q)) else own_hit(ws, state, hand, q[None])
    return near if own is None else on_itself(hand, own)


def clear_of_others(ws: Workspace, state: State, hand: str, q: Array) -> Failure | None:
    """None if a hand at q (n,) keeps the free-space clearance by the covers."""
    cover, world = ws.hand_cover(state, hand), ws.world(state, hand)
    clear = float(_kernel.clearance(cover, world, q[None])[0])
    need = ws.margin + ROOM
    if clear >= need:
        return None
    name, _ = ws.tightest(state, hand, q[None])
    return Failure("collision on the way", f"{hand} hand on {name} at the end of a line", need - clear, name)


def rounded(chain: Chain, cover: _kernel.Cover, world: _kernel.World, path: Array, margin: float) -> Motion:
    """The timed motion along a free path (k, n), its corners cut only as far as the clearance [m] allows. A
    straight one has none: it was looked at as it will be driven."""
    if len(path) == 2:
        return timed(chain, path, "free")
    for corner in _CORNERS:
        motion = timed(chain, path, "free", corner=corner)
        q = looked_at(motion)
        if _kernel.edge_free(cover, world, q[:-1], q[1:], margin=margin, resolution=FINE).all():
            break
    return motion


def connect(ws: Workspace, state: State, hand: str, goal: Array, seed: int) -> Motion | Failure:
    """A free motion of one hand from where it stands to goal (n,), everything else standing still.

    A search that ran out is "not found within the cap", never a proof that there is no way. In a dry
    workspace the way is taken for granted. Where the way found leads the arm into itself, which its covers
    do not see, others are tried: as the search found them, detours left in.
    """
    start = state.q[hand]
    if ws.dry:
        return Motion(hand, "free", (0.0, 1.0), (tuple(start), tuple(goal)), ((0.0,) * len(goal),) * 2)
    if np.abs(start - goal).max() < 1e-9:
        return Failure("not found within the cap", "start and goal are the same")
    old = None if ws.old is None else ws.old.way(hand, start, goal)
    if old is not None and way_kept(ws, *old, state):
        return old[0]
    hits = []
    for short, other in _TRIES:
        motion = _search(ws, state, hand, goal, seed + other, short)
        own = None if isinstance(motion, Failure) else own_hit(ws, state, hand, looked_at(motion))
        if own is None:
            return motion
        hits.append(own)
    return ran_out(
        f"{len(hits)} ways of the {hand} arm on which {hits[-1].moving} runs into {hits[-1].standing}"
    )


def _search(ws: Workspace, state: State, hand: str, goal: Array, seed: int, short: bool) -> Motion | Failure:
    """A way by the covers, or why there is none. short: cut detours."""
    h, start, need = ws.hands[hand], state.q[hand], ws.margin + ROOM
    cover, world = ws.hand_cover(state, hand), ws.world(state, hand)
    for cap in ws.caps.tree:
        search = _kernel.rrt_connect(
            cover, world, start, goal[None], iterations=cap, seed=seed, margin=need, resolution=RESOLUTION
        )
        ws.effort.spend(1 + search.iterations / _A_TRY)
        if search.path is not None:
            path = search.path
            if short:
                path = _kernel.shortcut(cover, world, path, seed=seed, margin=need, resolution=RESOLUTION)
            return rounded(h.chain, cover, world, path, ws.margin)
        if search.outcome != "iterations":
            clear = float(_kernel.clearance(cover, world, np.stack([start, goal])).min())
            return Failure("collision on the way", f"{hand} hand, {search.outcome}", need - clear)
    return ran_out(f"{ws.caps.tree[-1]} steps of the path search for the {hand} hand")
