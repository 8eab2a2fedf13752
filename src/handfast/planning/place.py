"""Taking a held part home along its way in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from handfast.mates.home import home_in, motion_axis
from handfast.model.grasp import Grasp
from handfast.model.mate import Mate
from handfast.planning.arrive import arrivals
from handfast.planning.clear_line import Allowed, Hit, blocked
from handfast.planning.failure import Failure, of_candidate
from handfast.planning.jaws import members_cut
from handfast.planning.leg import Leg, element
from handfast.planning.pick import APPROACH, backed, grip_pose, open_width
from handfast.planning.state import State
from handfast.planning.station import Lines, line_motion, stations
from handfast.planning.touch_move import touch_first
from handfast.planning.workspace import Workspace
from handfast.spatial import se3
from handfast.spatial.se3 import Array

CLEAR = 0.03  # how far before engagement the straight line begins [m]
_LEADS = (CLEAR, 0.06, 0.1)  # the same, further out where there is no room to begin so near
GATE = 0.001  # where the compliant insertion takes over, before engagement [m]


@dataclass(frozen=True, eq=False, slots=True)
class Goal:
    """Where a mate takes its part: T_world_home, direction of travel in world (3,), engaged length [m]."""

    T_world_home: Array
    axis: Array
    engaged: float
    T_into_home: Array


def goal(ws: Workspace, state: State, mate: Mate) -> Goal:
    """The goal of a mate, with everything it is joined to where it is now."""
    return state.once(("goal", mate.name), lambda: _goal(ws, state, mate))


def _goal(ws: Workspace, state: State, mate: Mate) -> Goal:
    product = ws.project.product
    poses = {p.fixed_part: ws.pose(state, p.fixed_part) for p in mate.pairs}
    home = home_in(product, mate, poses)
    axis = home[:3, :3] @ motion_axis(product, mate)
    into = se3.inverse(ws.pose(state, mate.into)) @ home
    return Goal(home, axis, max(abs(p.depth) for p in mate.pairs), into)


def touching(mate: Mate) -> Allowed:
    """The pairs that a mate brings into contact, as (moving, standing) names."""
    return frozenset((mate.part, name) for name in mate.joined)


def before(T: Array, axis: Array, length: float) -> Array:
    """A pose drawn back against the direction of travel [m]."""
    out = T.copy()
    out[:3, 3] -= length * axis
    return out


def place_blocked(ws: Workspace, state: State, hand: str, mate: Mate, grasp: Grasp) -> Failure | None:
    """Exact test of the way in, and of letting go, whatever arm branch carries them out."""
    aim = goal(ws, state, mate)
    T_grip = grip_pose(aim.T_world_home, grasp)
    hit = members_cut(ws, ws.group(state, mate.part), hand, grasp) or _way_in(
        ws, state, hand, mate, grasp, CLEAR
    )
    if hit is None and mate.held_until is None:
        left = state.attached(mate.part, f"part.{mate.into}", aim.T_into_home).opened(
            hand, open_width(ws, hand, grasp)
        )
        hit = blocked(
            ws.moving(left, hand), ws.standing(left, hand), T_grip, -APPROACH * T_grip[:3, 2], memo=ws.memo
        )
    if hit is None:
        return None
    return Failure("collision at mate", f"{hit.moving} on {hit.standing}", hit.short_by, hit.standing)


def _way_in(ws: Workspace, state: State, hand: str, mate: Mate, grasp: Grasp, lead: float) -> Hit | None:
    """What is in the way of a part, or of the hand that holds it, on the straight line home.

    lead: how far before engagement the line begins [m].
    """
    aim = goal(ws, state, mate)
    held = state.attached(mate.part, f"hand.{hand}", grasp.T_grip_part.matrix).opened(hand, grasp.width)
    return blocked(
        ws.moving(held, hand),
        ws.standing(held, hand),
        grip_pose(aim.T_world_home, grasp),
        -(aim.engaged + lead) * aim.axis,
        touching(mate),
        memo=ws.memo,
    )


def place_grips(T_home: Array, aim: Goal, mate: Mate, lead: float = CLEAR) -> list[Array]:
    """Grip poses of a mate: before the way in, where the compliant insertion takes over, home, and drawn back
    from it."""
    grips = [
        before(T_home, aim.axis, aim.engaged + lead),
        before(T_home, aim.axis, aim.engaged + GATE),
        T_home,
    ]
    return grips if mate.held_until is not None else [*grips, backed(T_home, APPROACH)]


def place(ws: Workspace, leg: Leg, hand: str, mate: Mate, grasp: Grasp, seed: int) -> Iterator[Leg | Failure]:
    """Legs that move, touch if the mate asks for it, position, assemble and let go, one for each arm branch
    that works."""
    home = goal(ws, leg.state, mate).T_world_home
    ways = touch_first(
        ws, leg, hand, mate, grasp, home, seed,
        lambda touched: _go_home(ws, touched, hand, mate, grasp, seed),
    )  # fmt: skip
    yield from of_candidate(ways, "bring home", hand, mate.name, grasp)


def _go_home(
    ws: Workspace, leg: Leg, hand: str, mate: Mate, grasp: Grasp, seed: int
) -> Iterator[Leg | Failure]:
    """From the nearest beginning of the line that has room."""
    for lead in _LEADS:
        if lead > CLEAR:
            hit = _way_in(ws, leg.state, hand, mate, grasp, lead)
            if hit is not None:
                text = f"{hit.moving} on {hit.standing}"
                yield Failure("collision at mate", text, hit.short_by, hit.standing)
                return
        came = False
        for end in _from_lead(ws, leg, hand, mate, grasp, lead, seed):
            came = came or isinstance(end, Leg)
            yield end
        if came:
            return


def _from_lead(
    ws: Workspace, leg: Leg, hand: str, mate: Mate, grasp: Grasp, lead: float, seed: int
) -> Iterator[Leg | Failure]:
    state, controller = leg.state, ws.project.cell.controller
    aim = goal(ws, state, mate)
    T_home = grip_pose(aim.T_world_home, grasp)
    grips = place_grips(T_home, aim, mate, lead)
    speeds = (controller.line_speed, controller.insert_speed, controller.line_speed)[: len(grips) - 1]
    keeps = mate.held_until is not None
    pair, how = mate.pairs[0], ws.strategy(mate.name)
    target = f"{pair.fixed_part}.{pair.fixed}"
    width = open_width(ws, hand, grasp)
    let = state.attached(mate.part, f"part.{mate.into}", aim.T_into_home).opened(hand, width)

    def after(lines: Lines) -> State:
        return let.moved(hand, lines[-1][-1])

    for way in arrivals(ws, state, hand, grips, speeds, seed, None if keeps else after):
        if isinstance(way, Failure):
            yield way
            continue
        free, motions, lines = way
        move = element("move", hand, mate.part, target, mate.name, leg.with_pending(free))
        position = element("position", hand, mate.part, target, mate.name, motions[:1])
        assemble = element(
            "assemble", hand, mate.part, target, mate.name, motions[1:2],
            before=0.0 if how is None else how.seconds, strategy=how,
        )  # fmt: skip
        here = state.moved(hand, lines[1][-1])
        if keeps:
            yield leg.then(here, move, position, assemble)
            continue
        left = after(lines)
        release = element(
            "release",
            hand,
            mate.part,
            target,
            mate.name,
            motions[2:],
            opening=width,
            before=ws.hands[hand].gripper.close_time,
            leaves=left.scene.of(mate.part),
        )
        yield leg.then(left, move, position, assemble, release)


def let_go(ws: Workspace, leg: Leg, hand: str, mate: Mate, grasp: Grasp) -> Leg | Failure:
    """Release a part that was held until now and draw the hand back, on the branch that the arm stands on."""
    state, h = leg.state, ws.hands[hand]
    T_grip = h.grip(state.q[hand])
    width = open_width(ws, hand, grasp)
    T_into = se3.inverse(ws.pose(state, mate.into)) @ ws.pose(state, mate.part)
    left = state.attached(mate.part, f"part.{mate.into}", T_into).opened(hand, width)
    hit = blocked(
        ws.moving(left, hand), ws.standing(left, hand), T_grip, -APPROACH * T_grip[:3, 2], memo=ws.memo
    )
    if hit is not None:
        text = f"{hit.moving} on {hit.standing} letting go"
        return Failure("collision at mate", text, hit.short_by, hit.standing)
    grips = [T_grip, backed(T_grip, APPROACH)]
    lines = next(stations(ws, left, hand, grips, state.q[hand]))  # the nearest branch first
    if isinstance(lines, Failure):
        return lines
    if np.abs(lines[0][0] - state.q[hand]).max() > 1e-6:
        return Failure("joint limit", "another branch")
    back = line_motion(h, lines[0], grips[0], grips[1], ws.project.cell.controller.line_speed)
    pair = mate.pairs[0]
    release = element(
        "release",
        hand,
        mate.part,
        f"{pair.fixed_part}.{pair.fixed}",
        mate.name,
        (back,),
        before=h.gripper.close_time,
        opening=width,
        leaves=left.scene.of(mate.part),
    )
    return leg.then(left.moved(hand, lines[0][-1]), release)
