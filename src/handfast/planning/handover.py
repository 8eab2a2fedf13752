"""Passing an item from one hand to the other."""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from functools import lru_cache
from itertools import chain

import numpy as np

from handfast import _kernel
from handfast.kinematics.inverse import inverse, least_turn
from handfast.model.grasp import Grasp
from handfast.model.motion import Motion
from handfast.planning.arrive import arrivals
from handfast.planning.caps import first_leg, within
from handfast.planning.clear_line import Hit, blocked
from handfast.planning.connect import RESOLUTION, roomy
from handfast.planning.failure import Failure, of_candidate
from handfast.planning.hand import Hand
from handfast.planning.jaws import jaws_cut, members_cut, placed_in
from handfast.planning.leg import Leg, element
from handfast.planning.pick import APPROACH, backed, closed_on, open_width
from handfast.planning.state import State
from handfast.planning.workspace import Workspace
from handfast.spatial import se3
from handfast.spatial.se3 import Array

_AT_ONCE = 64  # poses of the grid that are looked at together
_DOUBT = 1e-5  # what a bound of one arm's travel may be off by [rad]


def grips_meet(
    ws: Workspace, giver: str, a: Grasp, receiver: str, b: Grasp, built_in: list[tuple[str, Array]]
) -> Failure | None:
    """None if both hands can hold the item at once and either can come and go by its approach line; else
    what is in the way. built_in: into the item so far, (part, T_item_part)."""
    T_a_b = a.T_grip_part.matrix @ se3.inverse(b.T_grip_part.matrix)
    coming = ws.jaws(receiver, open_width(ws, receiver, b))
    item = [(ws.items[b.item].exact, b.T_grip_part.matrix), *placed_in(ws, built_in, b)]
    back = np.array([0, 0, -APPROACH])
    hit = jaws_cut(ws, receiver, b) or members_cut(ws, built_in, receiver, b)
    hit = hit or blocked([(coming, np.eye(4))], item, np.eye(4), back, memo=ws.memo)
    if hit is not None:
        return _hands_meet(giver, a, receiver, b, hit)
    for width_a, width_b in ((a.width, open_width(ws, receiver, b)), (open_width(ws, giver, a), b.width)):
        body_a, body_b = ws.jaws(giver, width_a), ws.jaws(receiver, width_b)
        for mover, T_mover, stander, T_stander in (
            (body_b, T_a_b, body_a, np.eye(4)),
            (body_a, np.eye(4), body_b, T_a_b),
        ):
            step = -APPROACH * T_mover[:3, 2]
            hit = blocked([(mover, np.eye(4))], [(stander, T_stander)], T_mover, step, memo=ws.memo)
            if hit is not None:
                return _hands_meet(giver, a, receiver, b, hit)
    return None


def _hands_meet(giver: str, a: Grasp, receiver: str, b: Grasp, hit: Hit) -> Failure:
    text = f"{hit.moving} on {hit.standing} passing {a.item} to the {receiver} hand"
    return Failure("collision at grasp", text, hit.short_by, hit.standing, ("meet", giver, a, receiver, b))


def meeting_poses(
    ws: Workspace, giver: str, a: Grasp, receiver: str, b: Grasp, near: State
) -> Iterator[Array]:
    """T_world_grip of the giver (4, 4) at poses where both hands have room, least arm travel first.

    A grid of places between the bases and of hand orientations; both arms must reach, and stand clear of
    everything but each other by the free-space clearance, the receiver at the start of its approach and the
    giver at the end of its retreat too.
    """
    T_a_b = a.T_grip_part.matrix @ se3.inverse(b.T_grip_part.matrix)
    stances = _stances(giver, receiver, T_a_b)
    grips = _grid(*(tuple(ws.hands[h].chain.base[:3, 3].tolist()) for h in (giver, receiver)))
    least = _least_travel(
        ws.hands[giver], ws.hands[receiver], T_a_b.tobytes(),
        near.q[giver].tobytes(), near.q[receiver].tobytes(),
    )  # fmt: skip
    order = np.argsort(least, kind="stable")[: int(np.isfinite(least).sum())]
    waiting: list[tuple[float, int]] = []
    for first in range(0, len(order), _AT_ONCE):  # few are needed: the others are not looked at
        some = order[first : first + _AT_ONCE]
        cost = np.zeros(len(some))
        for hand, T_grip_hand in stances:
            alive = np.isfinite(cost)
            other = receiver if hand == giver else giver
            cost[alive] += _travel(ws, near, hand, grips[some[alive]] @ T_grip_hand, other)
        for c, i in zip(cost.tolist(), some.tolist(), strict=True):
            if np.isfinite(c):
                heapq.heappush(waiting, (c, i))
        more = first + _AT_ONCE < len(order)
        until = least[order[first + _AT_ONCE]] if more else np.inf
        while waiting and waiting[0][0] <= until:
            yield grips[heapq.heappop(waiting)[1]]


def _stances(giver: str, receiver: str, T_a_b: Array) -> tuple[tuple[str, Array], ...]:
    """The hands that have to be somewhere for a handover, each with T_grip_hand from the giver's grip."""
    back = se3.translation(0, 0, -APPROACH)
    return (giver, np.eye(4)), (giver, back), (receiver, T_a_b), (receiver, T_a_b @ back)


@lru_cache(maxsize=64)
def _least_travel(
    giver: Hand, receiver: Hand, T_a_b: bytes, near_giver: bytes, near_receiver: bytes
) -> Array:
    """For every pose of the grid: a bound of what `meeting_poses` sorts by, whatever is in the way, (m,)."""
    grips = _grid(*(tuple(h.chain.base[:3, 3].tolist()) for h in (giver, receiver)))
    least, near = np.zeros(len(grips)), {"giver": near_giver, "receiver": near_receiver}
    for who, T_grip_hand in _stances("giver", "receiver", np.frombuffer(T_a_b).reshape(4, 4)):
        h, alive = giver if who == "giver" else receiver, np.isfinite(least)
        tips = h.tip_for(grips[alive] @ T_grip_hand)
        least[alive] += least_turn(h.chain, tips, np.frombuffer(near[who])) - _DOUBT
    return least


def _travel(ws: Workspace, state: State, hand: str, grips: Array, other: str) -> Array:
    """Least joint distance over the branches that are clear of all but the other hand, inf where none is,
    (m,) [rad]."""
    h = ws.hands[hand]
    q, valid = inverse(h.chain, h.tip_for(grips), state.q[hand])
    flat = q[valid]
    clear = np.zeros(valid.shape, dtype=bool)
    if len(flat):
        world = ws.world(state, hand, without_hand=other)
        clear[valid] = _kernel.free(ws.hand_cover(state, hand), world, flat, ws.margin + RESOLUTION / 2)
    way = np.where(clear, np.abs(np.where(valid[..., None], q, 0) - state.q[hand]).max(axis=-1), np.inf)
    return np.asarray(way.min(axis=1))


@lru_cache(maxsize=16)
def _grid(base_a: tuple[float, ...], base_b: tuple[float, ...]) -> Array:
    """Giver's grip poses (m, 4, 4): between the bases, in front of them, the hand's z over the sphere, four
    rolls."""
    middle = (np.array(base_a) + base_b) / 2
    across = np.subtract(base_b, base_a)
    ahead = np.array([-across[1], across[0], 0.0])
    ahead = ahead / max(float(np.linalg.norm(ahead)), 1e-9)
    places = [
        middle + y * ahead + s * across + np.array([0, 0, z])
        for z in (0.25, 0.35, 0.45)
        for y in (0.25, 0.35, 0.45)
        for s in (-0.1, 0.0, 0.1)
    ]
    rotations = []
    for elevation in (0.0, -0.6, 0.6, -1.2):
        for azimuth in np.arange(8) * np.pi / 4:
            z = np.array(
                [np.cos(elevation) * np.cos(azimuth), np.cos(elevation) * np.sin(azimuth), np.sin(elevation)]
            )
            x = np.cross(np.array([0.0, 0.0, 1.0]), z)
            x /= np.linalg.norm(x)
            for roll in np.arange(4) * np.pi / 2:
                frame = np.column_stack([x, np.cross(z, x), z])
                rotations.append(frame @ se3.so3_exp(np.array([0, 0, roll])))
    return se3.pose(
        np.tile(np.array(rotations), (len(places), 1, 1)), np.repeat(np.array(places), len(rotations), axis=0)
    )


def handover(
    ws: Workspace, leg: Leg, giver: str, receiver: str, item: str, a: Grasp, b: Grasp, mate: str, seed: int
) -> Iterator[Leg | Failure]:
    """Legs in which the giver brings the item, the receiver takes it, the giver lets go and draws back: one a
    meeting pose."""
    of = ("pass", giver, a, receiver, b)
    poses = meeting_poses(ws, giver, a, receiver, b, leg.state)
    first = next(poses, None)
    if first is None:
        yield Failure("out of reach", f"no pose where both hands reach {item}", of=of)
        return
    met = within(
        ws.caps.poses, chain([first], poses), f"meeting poses to pass {item}",
        lambda T_grip_a: first_leg(_brought(ws, leg, giver, receiver, item, a, b, T_grip_a, mate, seed)),
    )  # fmt: skip
    yield from of_candidate(met, *of)


def _brought(
    ws: Workspace,
    leg: Leg,
    giver: str,
    receiver: str,
    item: str,
    a: Grasp,
    b: Grasp,
    T_grip_a: Array,
    mate: str,
    seed: int,
) -> Iterator[Leg | Failure]:
    speed, retreat = ws.project.cell.controller.line_speed, [T_grip_a, backed(T_grip_a, APPROACH)]
    for way in arrivals(ws, leg.state, giver, retreat, (speed,), seed):
        if isinstance(way, Failure):
            yield way
            continue
        bring, (back,), lines = way
        there = leg.state.moved(giver, lines[0][0])
        move = element("move", giver, item, f"hand.{receiver}", mate, leg.with_pending(bring))
        yield from _taken(
            ws, leg.then(there, move), giver, receiver, item, a, b, back, lines[0][-1], mate, seed
        )


def _taken(
    ws: Workspace,
    leg: Leg,
    giver: str,
    receiver: str,
    item: str,
    a: Grasp,
    b: Grasp,
    back: Motion,
    q_back: Array,
    mate: str,
    seed: int,
) -> Iterator[Leg | Failure]:
    """The receiver comes and closes, the giver lets go and draws back."""
    speed = ws.project.cell.controller.line_speed
    T_grip_b = (
        ws.hands[giver].grip(leg.state.q[giver]) @ a.T_grip_part.matrix @ se3.inverse(b.T_grip_part.matrix)
    )
    opened = leg.state.opened(receiver, open_width(ws, receiver, b))
    grips = [backed(T_grip_b, APPROACH), T_grip_b]
    for way in arrivals(ws, opened, receiver, grips, (speed,), seed):
        if isinstance(way, Failure):
            yield way
            continue
        come, (approach,), lines = way
        taken = closed_on(opened.moved(receiver, lines[0][-1]), receiver, item, b)
        let = taken.opened(giver, open_width(ws, giver, a)).moved(giver, q_back)
        tight = roomy(ws, let, receiver, let.q[receiver]) or roomy(ws, let, giver, q_back)
        if tight is not None:
            yield tight
            continue
        reach = element(
            "reach", receiver, item, f"hand.{giver}", mate, (come, approach), opening=opened.widths[receiver]
        )
        close = element(
            "grasp",
            receiver,
            item,
            f"hand.{giver}",
            mate,
            before=ws.hands[receiver].gripper.close_time,
            grasp=b,
        )
        release = element(
            "release",
            giver,
            item,
            f"hand.{receiver}",
            mate,
            (back,),
            opening=let.widths[giver],
            before=ws.hands[giver].gripper.close_time,
            leaves=let.scene.of(item),
        )
        yield leg.then(let, reach, close, release)
