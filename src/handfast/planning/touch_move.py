"""Touches before a mate: guarded moves of what the hand carries against another part's face.

Those that the project writes have to be made. Those that the ledger demands are made if they can be:
where one cannot be, the plan goes on without it, and whoever demanded it sees that it is missing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from itertools import islice

import numpy as np

from handfast.mates.home import motion_axis
from handfast.model.grasp import Grasp
from handfast.model.mate import Mate
from handfast.model.touch import Touch
from handfast.planning.arrive import arrivals
from handfast.planning.clear_line import Hit, blocked
from handfast.planning.failure import Failure
from handfast.planning.leg import Leg, element
from handfast.planning.state import State
from handfast.planning.workspace import Workspace
from handfast.planning.written_touch import written_touch
from handfast.spatial import se3
from handfast.spatial.se3 import Array

_ABOVE = 0.033  # the straight line to the start begins this far away [m]
_BARE = 0.0001  # kept between the two parts until just before they meet [m]
_SHORT = 0.0003  # how far before the contact that ends [m]
_DEMANDED = 2  # ways to make a demanded touch that are carried on with before going on without it

Legs = Iterator[Leg | Failure]


def touch_first(
    ws: Workspace, leg: Leg, hand: str, mate: Mate, grasp: Grasp, T_world_home: Array, seed: int
) -> Legs:
    """The leg with the touches of the mate added, in order; the leg itself if nobody wants one."""
    legs: Iterable[Leg | Failure] = [leg]
    for written in mate.touches:

        def must(then: Leg, face: tuple[str, str] = written) -> Legs:
            touch = written_touch(ws, then.state, hand, mate, grasp, T_world_home, *face)
            return _made(ws, then, hand, mate, touch, seed)

        legs = _each(legs, must)
    for demanded in ws.demanded(mate.name):

        def may(then: Leg, touch: Touch = demanded) -> Legs:
            return _if_possible(ws, then, hand, mate, touch, seed)

        legs = _each(legs, may)
    yield from legs


def touch_blocked(ws: Workspace, state: State, hand: str, mate: Mate, touch: Touch) -> Hit | None:
    """Exact test of a touch, whatever arm branch carries it out: what is in the way from every side."""
    return _way(ws, state, hand, mate, touch)[1]


def _each(legs: Iterable[Leg | Failure], more: Callable[[Leg], Legs]) -> Legs:
    for leg in legs:
        if isinstance(leg, Failure):
            yield leg
        else:
            yield from more(leg)


def _if_possible(ws: Workspace, leg: Leg, hand: str, mate: Mate, touch: Touch, seed: int) -> Legs:
    made = (found for found in _made(ws, leg, hand, mate, touch, seed) if isinstance(found, Leg))
    yield from islice(made, _DEMANDED)
    yield leg


def _made(ws: Workspace, leg: Leg, hand: str, mate: Mate, touch: Touch, seed: int) -> Legs:
    """Legs that move there, touch and come back, one for each arm branch that works."""
    state, controller = leg.state, ws.project.cell.controller
    grips, hit = _way(ws, state, hand, mate, touch)
    target = f"{touch.part}.{touch.feature}"
    if hit is not None:
        text = f"{hit.moving} on {hit.standing} touching {target}"
        yield Failure("collision at mate", text, hit.short_by, hit.standing)
        return
    held = state.held_by(hand) or ""
    speeds = (controller.line_speed, touch.speed, controller.line_speed, controller.line_speed)
    for way in arrivals(ws, state, hand, [*grips, grips[1], grips[0]], speeds, seed):
        if isinstance(way, Failure):
            yield way
            continue
        free, motions, lines = way
        move = element("move", hand, held, target, mate.name, leg.with_pending(free))
        locate = element(
            "locate", hand, held, target, mate.name, motions,
            before=controller.settle, touch=touch, guarded=1,
        )  # fmt: skip
        yield leg.then(state.moved(hand, lines[-1][-1]), move, locate)


def _way(ws: Workspace, state: State, hand: str, mate: Mate, touch: Touch) -> tuple[list[Array], Hit | None]:
    """Grip poses before, at the start and in contact; and what is in the way whichever side it is begun
    from.
    """
    if touch.contact is None:
        raise ValueError(
            f"{touch.held} on {touch.part}.{touch.feature}: expected how it stands, found nothing"
        )
    feature = ws.project.product.part(touch.part).feature(touch.feature)
    T_face = ws.pose(state, touch.part) @ feature.frame.matrix
    along = T_face[:3, :3] @ np.array(touch.direction)
    T_held_grip = se3.inverse(ws.pose(state, touch.held)) @ ws.hands[hand].grip(state.q[hand])
    T_held = T_face @ touch.contact.matrix
    contact = T_held @ T_held_grip
    start = _moved(contact, -touch.travel * along)
    back = -(T_held[:3, :3] @ motion_axis(ws.project.product, mate))
    hit = _contact_blocked(ws, state, hand, touch, start, touch.travel * along)
    sides = (back, back - along, -along)
    for side in sides if hit is None else ():
        step = _ABOVE * side / np.linalg.norm(side)
        hit = blocked(ws.moving(state, hand), ws.standing(state, hand), start, step, memo=ws.memo)
        if hit is None:
            return [_moved(start, step), start, contact], None
    return [_moved(start, _ABOVE * back), start, contact], hit


def _contact_blocked(
    ws: Workspace, state: State, hand: str, touch: Touch, start: Array, step: Array
) -> Hit | None:
    """On the guarded move: the two parts keep apart until just before, all others all the way."""
    moving, standing = ws.moving(state, hand), ws.standing(state, hand)
    pair = frozenset({(touch.held, touch.part)})
    hit = blocked(moving, standing, start, step, pair, memo=ws.memo)
    if hit is not None:
        return hit
    short = step * (1 - _SHORT / float(np.linalg.norm(step)))
    return blocked(
        [m for m in moving if m[0].name == touch.held], [s for s in standing if s[0].name == touch.part],
        start, short, need=_BARE,
    )  # fmt: skip


def _moved(T: Array, step: Array) -> Array:
    out = T.copy()
    out[:3, 3] += step
    return out
