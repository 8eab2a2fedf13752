"""What a part goes into, brought to where it is to stand: turned over to a place, or taken in a hand."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from handfast.model.grasp import Grasp
from handfast.model.mate import Mate
from handfast.planning.built_in_hand import in_hand
from handfast.planning.caps import first_leg, within
from handfast.planning.failure import Failure
from handfast.planning.handover import grips_meet, handover
from handfast.planning.leg import Leg
from handfast.planning.pick import grip_pose, pick
from handfast.planning.put import put
from handfast.planning.root_grasps import pickable, root_grasps
from handfast.planning.sifted import varied
from handfast.planning.state import State
from handfast.planning.station import out_of_reach, reachable
from handfast.planning.workspace import Workspace
from handfast.spatial.se3 import Array

Legs = Iterator[Leg | Failure]


def root_of(state: State, part: str) -> str:
    """The part that a part is built on, directly or through others: it stands in a place or in a hand."""
    while (parent := state.scene.of(part).parent).startswith("part."):
        part = parent.removeprefix("part.")
    return part


def is_standing(state: State, mate: Mate) -> bool:
    """Whether what a mate goes into stands where it is to stand."""
    return mate.stands in (None, state.scene.of(root_of(state, mate.into)).parent)


def stood(ws: Workspace, leg: Leg, mate: Mate, seed: int) -> Legs:
    """Legs after which what the mate goes into stands where the mate wants it; the leg itself if it does."""
    if mate.stands is None or is_standing(leg.state, mate):
        yield leg
        return
    root = root_of(leg.state, mate.into)
    holder = next((h for h in ws.hands if leg.state.held_by(h) == root), None)
    if holder is not None:
        yield Failure("hand is taken", f"the {holder} hand holds {root} for good: it is not set down again")
    elif mate.stands.startswith("hand."):
        yield from in_hand(ws, leg, mate, root, mate.stands.removeprefix("hand."), seed)
    else:
        yield from first_leg(_in_place(ws, leg, mate, root, seed))  # how it came there changes nothing


def _in_place(ws: Workspace, leg: Leg, mate: Mate, root: str, seed: int) -> Legs:
    """By one hand that turns it, then from hand to hand."""
    free = [h for h in ws.hands if leg.state.held_by(h) is None]
    if not free:
        yield Failure("hand is taken", f"no hand is free to take {root} to {mate.stands}")
    T_there = ws.parent_pose(leg.state, mate.stands or "")
    for hand in free:
        taken, failures = pickable(ws, leg.state, hand, root)
        both = [g for g in taken if reachable(ws.hands[hand], grip_pose(T_there, g)[None])[0]]
        if taken and not both:
            far = min((out_of_reach(ws.hands[hand], grip_pose(T_there, g), f"{hand} hand to {mate.stands}")
                       for g in taken), key=lambda f: f.short_by)  # fmt: skip
            failures.append(far)
        what = f"grasps of {root} by the {hand} hand to take it to {mate.stands}"
        yield from within(
            ws.caps.grasps, iter(both), what,
            lambda g, h=hand: _moved(ws, leg, mate, root, h, g, seed),  # type: ignore[misc]
        )  # fmt: skip
        yield from failures
    for giver in free:
        for receiver in (h for h in free if h != giver):
            yield from _passed(ws, leg, mate, root, giver, receiver, T_there, seed)


def _moved(ws: Workspace, leg: Leg, mate: Mate, root: str, hand: str, grasp: Grasp, seed: int) -> Legs:
    for picked in first_leg(pick(ws, leg, hand, root, grasp, mate.name, seed)):
        if isinstance(picked, Failure):
            yield picked
        else:
            yield from first_leg(put(ws, picked, hand, grasp, mate.stands or "", np.eye(4), mate.name, seed))


def _passed(
    ws: Workspace, leg: Leg, mate: Mate, root: str, giver: str, receiver: str, T_there: Array, seed: int
) -> Legs:
    """Legs in which one hand takes it up, and the other, which gets it from there, puts it down."""
    taken, _ = pickable(ws, leg.state, giver, root)
    every = root_grasps(ws, leg.state, receiver, root)
    puts = [g for g in every if reachable(ws.hands[receiver], grip_pose(T_there, g)[None])[0]]
    what = f"grasps of {root} by the {giver} hand to pass it on"
    yield from within(
        ws.caps.givers, varied(taken), what,
        lambda a: _handed_on(ws, leg, mate, root, giver, receiver, a, puts, seed),
    )  # fmt: skip


def _handed_on(
    ws: Workspace,
    leg: Leg,
    mate: Mate,
    root: str,
    giver: str,
    receiver: str,
    a: Grasp,
    puts: list[Grasp],
    seed: int,
) -> Legs:
    """The same by one grasp of the giver."""
    built_in = ws.group(leg.state, root)
    for picked in first_leg(pick(ws, leg, giver, root, a, mate.name, seed)):
        if isinstance(picked, Failure):
            yield picked
            continue
        apart = (b for b in varied(puts) if grips_meet(ws, giver, a, receiver, b, built_in) is None)
        what = f"pairs of grasps to pass {root} from {giver} to {receiver}"
        yield from within(
            ws.caps.givers, apart, what,
            lambda b, picked=picked: _put_by(ws, picked, mate, root, giver, receiver, a, b, seed),  # type: ignore[misc]
        )  # fmt: skip


def _put_by(
    ws: Workspace,
    leg: Leg,
    mate: Mate,
    root: str,
    giver: str,
    receiver: str,
    a: Grasp,
    b: Grasp,
    seed: int,
) -> Legs:
    """And by one of the receiver's."""
    for passed in first_leg(handover(ws, leg, giver, receiver, root, a, b, mate.name, seed)):
        if isinstance(passed, Failure):
            yield passed
        else:
            put_there = put(ws, passed, receiver, b, mate.stands or "", np.eye(4), mate.name, seed)
            yield from first_leg(put_there)
