"""Screws: one alone, or a pattern of rounds over several."""

from __future__ import annotations

import math
from collections.abc import Iterator

from handfast.model.mate import Mate
from handfast.planning.failure import Failure
from handfast.planning.fasten import Round, drive, put_back, whole
from handfast.planning.fetch import fetch, grasp_in, start_screw
from handfast.planning.leg import Leg
from handfast.planning.place import let_go
from handfast.planning.unit import Unit
from handfast.planning.workspace import Workspace
from handfast.standards.threads import coarse_thread

_SNUG = 0.00005  # the head bears; left for the last round to turn [m], some 25 degrees of an M4


def tighten(
    ws: Workspace, leg: Leg, unit: Unit, hand: str, keep_tool: bool, seed: int
) -> Iterator[Leg | Failure]:
    """Legs that drive every screw of a unit through its rounds; parts held until one of them is snug are let
    go then."""
    for fetched in fetch(ws, leg, unit.mates[0], hand, seed):
        if isinstance(fetched, Failure):
            yield fetched
            continue
        done = _all_rounds(ws, fetched, unit, hand, seed)
        if isinstance(done, Failure) or keep_tool:
            yield done
        else:
            yield from put_back(ws, done, hand, grasp_in(done, hand), unit.mates[-1].name, seed)


def _all_rounds(ws: Workspace, leg: Leg, unit: Unit, hand: str, seed: int) -> Leg | Failure:
    for mate, turn, first in _rounds(ws, unit):
        done = _one(ws, leg, hand, mate, turn, first, seed)
        if isinstance(done, Failure):
            return done
        leg = done
    return leg


def _rounds(ws: Workspace, unit: Unit) -> Iterator[tuple[Mate, Round, bool]]:
    """Which screw is turned how far, in order; whether it is taken up first."""
    if unit.pattern is None:
        yield unit.mates[0], whole(ws, unit.mates[0]), True
        return
    left = {m.name: abs(m.pairs[0].depth) for m in unit.mates}
    for number, stage in enumerate(unit.pattern.stages):
        last = number == len(unit.pattern.stages) - 1
        for mate in unit.mates:
            start = left[mate.name]
            thread = ws.project.product.part(mate.part).feature(mate.pairs[0].moving).thread or ""
            if stage.turns is not None:
                end = max(_SNUG, start - stage.turns / (2 * math.pi) * coarse_thread(thread).pitch)
            else:
                end = 0.0 if last else min(start, _SNUG)
            left[mate.name] = end
            yield mate, Round(start, end, stage.torque), number == 0


def _one(
    ws: Workspace, leg: Leg, hand: str, mate: Mate, turn: Round, first: bool, seed: int
) -> Leg | Failure:
    found = (
        start_screw(ws, leg, hand, mate, turn, seed)
        if first
        else drive(ws, leg, hand, mate, grasp_in(leg, hand), turn, seed)
    )
    failures: list[Failure] = []
    for result in found:
        if isinstance(result, Failure):
            failures.append(result)
            continue
        let = result if turn.torque is None else _release_retained(ws, result, mate)
        if isinstance(let, Leg):
            return let
        failures.append(let)
    return min(failures, key=lambda f: f.short_by)


def _release_retained(ws: Workspace, leg: Leg, screw: Mate) -> Leg | Failure:
    """Let go of a part that was held until this screw was snug."""
    for mate in ws.project.product.mates:
        if mate.held_until == screw.name:
            for holder in ws.hands:
                if leg.state.held_by(holder) == mate.part:
                    result = let_go(ws, leg, holder, mate, grasp_in(leg, holder))
                    if isinstance(result, Failure):
                        return result
                    leg = result
    return leg
