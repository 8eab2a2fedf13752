"""What is built on, held in a hand: firmly, with room for all that goes into it, where other hands reach."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

import numpy as np

from handfast.kinematics.inverse import inverse
from handfast.mates.grasps import grasps
from handfast.mates.home import assembled_poses
from handfast.model.grasp import Grasp
from handfast.model.mate import Mate
from handfast.planning.caps import first_leg, within
from handfast.planning.clear_line import Block, Hit, Standing, blocked
from handfast.planning.connect import connect, roomy
from handfast.planning.failure import Failure
from handfast.planning.leg import Leg, element
from handfast.planning.pick import APPROACH, grip_pose, pick
from handfast.planning.root_grasps import pickable
from handfast.planning.sifted import varied
from handfast.planning.state import State
from handfast.planning.station import reachable
from handfast.planning.workspace import Workspace
from handfast.spatial import se3
from handfast.spatial.se3 import Array

Legs = Iterator[Leg | Failure]
_YAWS = 8
Homes = dict[str, list[tuple[str, list[tuple[Grasp, Array]]]]]
"""By mate: hands with their grasps of its part, and T_root_grip of each when the part is home."""
_ACROSS, _AHEAD, _UP = (-0.12, 0.0, 0.12), (0.3, 0.38, 0.46), (0.2, 0.3)
"""Where a hand may hold what is built on: off the middle of the arms' bases, across, ahead, up [m]."""
_Z = np.array([0.0, 0.0, 1.0])
_HOLDS = 12  # of the poses in which a hand may hold what is built on, so many are tried for each grasp


def in_hand(ws: Workspace, leg: Leg, mate: Mate, root: str, hand: str, seed: int) -> Legs:
    """Legs in which the hand takes it up and holds it where the other hands reach what they have to."""
    held = leg.state.held_by(hand)
    if held is not None:
        yield Failure("hand is taken", f"the {hand} hand holds {held} and is to hold {root}")
        return
    taken, failures = pickable(ws, leg.state, hand, root)
    firm = [g for g in taken if _bears(ws, g, mate.stands or "")]
    if taken and not firm:
        failures.append(
            Failure("not held", f"no grasp of {root} by the {hand} hand bears what its mates need")
        )
    homes = _homes(ws, mate, root, hand)
    roomy_ones: list[Grasp] = []
    for grasp in firm:
        met = _in_the_way(ws, hand, grasp, homes)
        if met is None:
            roomy_ones.append(grasp)
        else:
            failures.append(met)
    firm = roomy_ones
    what = f"grasps of {root} by the {hand} hand to hold it"
    yield from within(ws.caps.grasps, iter(varied(firm)), what,
                      lambda g: _held(ws, leg, mate, root, hand, g, homes, seed))  # fmt: skip
    yield from failures


def _bears(ws: Workspace, grasp: Grasp, where: str) -> bool:
    """Whether the force and the torque of every mate that is done there stay under half of what the grasp
    takes before it slips."""
    there = [m for m in ws.project.product.mates if m.stands == where]
    force = max((m.force_limit for m in there if m.kind != "screw"), default=0.0)
    torque = max((m.torque or 0.0 for m in there), default=0.0)
    return force <= grasp.slip_force / 2 and torque <= grasp.slip_torque / 2


def _in_the_way(ws: Workspace, hand: str, grasp: Grasp, homes: Homes) -> Failure | None:
    """What the holding jaws leave no room for: some mate's part, by whatever grasp it comes; None if there is
    room for all."""
    jaws = Standing([Block(ws.jaws(hand, grasp.width), grip_pose(np.eye(4), grasp))])
    for name, ways in homes.items():
        least: Hit | None = None
        for other, found in ways:
            for g, T_root_grip in found:
                coming = [
                    (ws.jaws(other, g.width), np.eye(4)),
                    (ws.items[g.item].exact, g.T_grip_part.matrix),
                ]
                hit = blocked(coming, jaws, T_root_grip, -APPROACH * T_root_grip[:3, 2], memo=ws.memo)
                if hit is None:
                    break
                least = hit if least is None or hit.short_by < least.short_by else least
            else:
                continue
            break
        else:
            if least is not None:
                text = f"{least.moving} on {least.standing} at {name}"
                return Failure("collision at mate", text, least.short_by, least.standing)
    return None


def _held(
    ws: Workspace, leg: Leg, mate: Mate, root: str, hand: str, grasp: Grasp, homes: Homes, seed: int
) -> Legs:
    poses = _hold_poses(ws, leg.state, root, hand, grasp, homes)
    if not poses:
        text = f"no pose where the {hand} hand holds {root} and another hand reaches all that goes into it"
        yield Failure("out of reach", text)
        return
    for picked in first_leg(pick(ws, leg, hand, root, grasp, mate.name, seed)):
        if isinstance(picked, Failure):
            yield picked
            continue
        yield from within(
            _HOLDS, iter(poses), f"poses of the {hand} hand to hold {root}",
            lambda T, picked=picked: first_leg(_taken_to(ws, picked, mate, root, hand, T, seed)),  # type: ignore[misc]
        )  # fmt: skip


def _taken_to(ws: Workspace, leg: Leg, mate: Mate, root: str, hand: str, T_grip: Array, seed: int) -> Legs:
    """On each branch of the arm, the nearest first."""
    state, h = leg.state, ws.hands[hand]
    q, valid = inverse(h.chain, h.tip_for(T_grip)[None], state.q[hand])
    found = q[0][valid[0]]
    for goal in found[np.argsort(np.abs(found - state.q[hand]).max(axis=1), kind="stable")]:
        way = roomy(ws, state, hand, goal) or connect(ws, state, hand, goal, seed)
        if isinstance(way, Failure):
            yield way
            continue
        move = element("move", hand, root, "clear", mate.name, leg.with_pending(way))
        yield leg.then(state.moved(hand, goal), move)


def _hold_poses(ws: Workspace, state: State, root: str, hand: str, grasp: Grasp, homes: Homes) -> list[Array]:
    """Grip poses in which the part stands as upright as it lies, turned about the vertical, and some grasp of
    another hand reaches the home of every part that is mated into it there; the nearest to the middle
    first."""
    T_roots = state.once(("served", root, hand), lambda: _served_poses(ws, state, root, homes))
    grips = T_roots @ se3.inverse(grasp.T_grip_part.matrix)
    return list(grips[reachable(ws.hands[hand], grips)]) if len(grips) else []


def _served_poses(ws: Workspace, state: State, root: str, homes: Homes) -> Array:
    """The same poses of the part itself (m, 4, 4), whatever hand holds it there."""
    T_part = ws.pose(state, root)
    middle = np.array([h.chain.base[:3, 3] for h in ws.hands.values()]).mean(axis=0)
    spots = sorted(
        product(_ACROSS, _AHEAD, _UP), key=lambda s: abs(s[0]) + abs(s[1] - _AHEAD[1]) + abs(s[2] - _UP[0])
    )
    turned = [se3.rotation(_Z, 2 * np.pi * k / _YAWS) @ T_part for k in range(_YAWS)]
    T = np.array([T_yaw for _ in spots for T_yaw in turned])
    T[:, :3, 3] = np.repeat(middle + np.array(spots), _YAWS, axis=0)
    for ways in homes.values():
        reached = np.zeros(len(T), dtype=bool)
        for h, found in ways:
            for _, T_root_grip in found:
                left = np.flatnonzero(~reached)
                reached[left] = reachable(ws.hands[h], T[left] @ T_root_grip)
        T = T[reached]
    return T


def _homes(ws: Workspace, mate: Mate, root: str, hand: str) -> Homes:
    """By mate that is done where this one is: how other hands may hold its part as it comes home."""
    mates = ws.project.product.mates
    home = assembled_poses(ws.project.product)
    out: Homes = {}
    for other in mates:
        if other.stands != mate.stands or other.tool is not None:
            continue
        item, T_root_home = ws.items[other.part], se3.inverse(home[root]) @ home[other.part]
        ways = []
        for name in (h for h in ws.hands if h != hand):
            every = grasps(ws.hands[name].gripper, other.part, item.features, item.mass, item.friction)
            if every:
                ways.append((name, [(g, grip_pose(T_root_home, g)) for g in every]))
        out[other.name] = ways
    return out
