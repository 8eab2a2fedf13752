"""Touches before a mate: guarded moves of what the hand carries against another part's face.

Those that the project writes have to be made. Those that the ledger demands are made if they can be:
where one cannot be, the plan goes on without it, and whoever demanded it sees that it is missing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

import numpy as np

from handfast.mates.home import motion_axis
from handfast.model.grasp import Grasp
from handfast.model.mate import Mate
from handfast.model.motion import Motion
from handfast.model.touch import Touch
from handfast.planning.arrive import arrivals
from handfast.planning.clear_line import Hit, blocked
from handfast.planning.failure import Failure
from handfast.planning.leg import Leg, element
from handfast.planning.state import State
from handfast.planning.station import Lines, out_of_reach, reachable
from handfast.planning.workspace import Workspace
from handfast.planning.written_touch import written_touch
from handfast.spatial import se3
from handfast.spatial.se3 import Array

_ABOVE = (0.033, 0.06, 0.1)  # the straight line to the start begins this far away [m]
_BARE = 0.0001  # kept between the two parts until just before they meet [m]
_SHORT = 0.0003  # how far before the contact that ends [m]

Legs = Iterator[Leg | Failure]
Arrival = tuple[Motion, tuple[Motion, ...], Lines]


def touch_first(
    ws: Workspace,
    leg: Leg,
    hand: str,
    mate: Mate,
    grasp: Grasp,
    T_world_home: Array,
    seed: int,
    then: Callable[[Leg], Legs],
) -> Legs:
    """Legs that make the touches of a mate, in order, and go on as `then` does; first with the demanded
    touches that can be made, then without.
    """
    legs: Iterable[Leg | Failure] = [leg]
    for written in mate.touches:

        def must(before: Leg, face: tuple[str, str] = written) -> Legs:
            touch = written_touch(ws, before.state, hand, mate, grasp, T_world_home, *face)
            return _made(ws, before, hand, mate, touch, seed)

        legs = _each(legs, must)
    yield from _each(legs, lambda before: _demanded(ws, before, hand, mate, seed, then))


def _each(legs: Iterable[Leg | Failure], more: Callable[[Leg], Legs]) -> Legs:
    for leg in legs:
        if isinstance(leg, Failure):
            yield leg
        else:
            yield from more(leg)


def _demanded(ws: Workspace, leg: Leg, hand: str, mate: Mate, seed: int, then: Callable[[Leg], Legs]) -> Legs:
    """Demanded touches are worth looking for only where the part goes home without them."""
    bare = then(leg)
    if ws.demanded(mate.name):
        for found in bare:
            if isinstance(found, Leg):
                yield from then(_with_demanded(ws, leg, hand, mate, seed))
                yield found
                break
            yield found
    yield from bare


def _with_demanded(ws: Workspace, leg: Leg, hand: str, mate: Mate, seed: int) -> Leg:
    """The leg with each demanded touch that can be made, in the first way that works."""
    for touch in ws.demanded(mate.name):
        made = (found for found in _made(ws, leg, hand, mate, touch, seed) if isinstance(found, Leg))
        leg = next(made, leg)
    return leg


def _made(ws: Workspace, leg: Leg, hand: str, mate: Mate, touch: Touch, seed: int) -> Legs:
    """Legs that move there, touch and come back, one for each arm branch that works."""
    state = leg.state
    held, target = state.held_by(hand) or "", f"{touch.part}.{touch.feature}"
    for way in touch_arrivals(ws, state, hand, mate, touch, seed):
        if isinstance(way, Failure):
            yield way
            continue
        free, motions, lines = way
        move = element("move", hand, held, target, mate.name, leg.with_pending(free))
        locate = element(
            "locate", hand, held, target, mate.name, motions,
            before=ws.project.cell.controller.settle, touch=touch, guarded=1,
        )  # fmt: skip
        yield leg.then(state.moved(hand, lines[-1][-1]), move, locate)


def touch_arrivals(
    ws: Workspace, state: State, hand: str, mate: Mate, touch: Touch, seed: int
) -> Iterator[Arrival | Failure]:
    """Ways to a touch and back on each arm branch that works, from the nearest side that has room; or
    failures.

    The lines: to the start, onto the face, back to the start, away. Raises ValueError for a touch that
    does not say how the part stands.
    """
    line = ws.project.cell.controller.line_speed
    start, contact, sides = _contact(ws, state, hand, mate, touch)
    h = ws.hands[hand]
    if not reachable(h, np.array([start, contact])).all():
        yield out_of_reach(h, contact, f"{hand} arm")
        return
    hit = _contact_blocked(ws, state, hand, touch, start, contact[:3, 3] - start[:3, 3])
    if hit is not None:
        yield _blocked(hit, touch)
        return
    for length in _ABOVE:
        for side in sides:
            step = length * side / np.linalg.norm(side)
            hit = blocked(ws.moving(state, hand), ws.standing(state, hand), start, step, memo=ws.memo)
            if hit is not None:
                yield _blocked(hit, touch)
                continue
            above = _moved(start, step)
            grips, came = [above, start, contact, start, above], False
            for way in arrivals(ws, state, hand, grips, (line, touch.speed, line, line), seed):
                came = came or not isinstance(way, Failure)
                yield way
            if came:
                return


def _contact(
    ws: Workspace, state: State, hand: str, mate: Mate, touch: Touch
) -> tuple[Array, Array, tuple[Array, ...]]:
    """Grip poses at the start and in contact, and the directions in the world to come from."""
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
    back = -(T_held[:3, :3] @ motion_axis(ws.project.product, mate))
    return _moved(contact, -touch.travel * along), contact, (back, back - along, -along)


def _blocked(hit: Hit, touch: Touch) -> Failure:
    text = f"{hit.moving} on {hit.standing} touching {touch.part}.{touch.feature}"
    return Failure("collision at mate", text, hit.short_by, hit.standing)


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
    target = (ws.items[touch.part].exact, ws.pose(state, touch.part))
    return blocked([m for m in moving if m[0].name == touch.held], [target], start, short, need=_BARE)


def _moved(T: Array, step: Array) -> Array:
    out = T.copy()
    out[:3, 3] += step
    return out
