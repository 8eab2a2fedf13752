"""A hand that lets go of a part must stand clear there: from where it has no room no free path begins."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from handfast import _kernel
from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.kinematics.inverse import inverse
from handfast.model.mate import Mate
from handfast.planning.connect import RESOLUTION
from handfast.planning.fetch import grasp_in
from handfast.planning.leg import Leg
from handfast.planning.pick import pick
from handfast.planning.place import place
from handfast.planning.realise import realise
from handfast.planning.route import Route
from handfast.planning.state import State
from handfast.planning.unit import units_of
from handfast.planning.workspace import Workspace, make_workspace
from handfast.spatial import se3

PUMP = Path(__file__).parents[2] / "projects" / "dosing-pump"
SEED = 7


def room(ws: Workspace, state: State, hand: str) -> float:
    """How far a hand is from everything round it, by the covers [m]."""
    q = state.q[hand][None]
    return float(_kernel.clearance(ws.hand_cover(state, hand), ws.world(state, hand), q)[0])


def beside(ws: Workspace, leg: Leg, end: State, hand: str, other: str) -> Iterator[Leg]:
    """The leg with the other hand standing beside where the first will end, one for each place and branch."""
    h, T_end = ws.hands[other], ws.hands[hand].grip(end.q[hand])
    for way in np.arange(0.0, 2 * np.pi, np.pi / 6):
        for off in np.arange(0.06, 0.16, 0.002):
            T = se3.translation(off * np.cos(way), off * np.sin(way), 0.0) @ T_end
            q, valid = inverse(h.chain, h.tip_for(T)[None])
            for there in q[0][valid[0]]:
                yield Leg(leg.state.moved(other, there), leg.elements, leg.pending)


def one_let_go(ws: Workspace, start: Leg) -> Iterator[tuple[str, Mate, Leg]]:
    """Parts that a hand brings home and lets go, free paths taken for granted."""
    for unit in units_of(ws.project.product):
        for hand in ws.hands:
            for one in realise(ws, start, unit, Route("direct", (hand,)), False, SEED):
                if isinstance(one, Leg) and one.elements[-1].kind == "release":
                    yield hand, unit.mates[0], one


def test_no_hand_lets_go_where_it_has_no_room() -> None:
    checked = check_folder(PUMP)
    assert isinstance(checked, CheckedProject)
    ws = replace(make_workspace(checked.project), dry=True)
    start = Leg(ws.start())
    hand, mate, end = next(one_let_go(ws, start))
    other = next(h for h in ws.hands if h != hand)
    grasp, need = grasp_in(end, hand), ws.margin + RESOLUTION / 2
    picked = next(p for p in pick(ws, start, hand, mate.part, grasp, mate.name, SEED) if isinstance(p, Leg))
    tight = 0
    for narrow in beside(ws, picked, end.state, hand, other):
        crowded = end.state.moved(other, narrow.state.q[other])
        if not 0.0 < room(ws, crowded, hand) < need:
            continue
        tight += 1
        ways = [w for w in place(ws, narrow, hand, mate, grasp, SEED) if isinstance(w, Leg)]
        assert all(room(ws, w.state, hand) >= need for w in ways)
        if tight == 20:
            break
    assert tight
