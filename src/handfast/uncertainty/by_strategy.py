"""The conditions of a mate whose part does not go straight in.

Spiral, tilting and righting: the tip has to start within reach. Once it is in the hole the hand yields
sideways until little force is left, so of the first pair's lateral error no more is left than the clearance
and that force over the hand's stiffness; for this the other limits are narrowed, and those of the other
pairs, which move along. Rotating while lowering: every phase is tried, a step at a time, each within half
of the least backlash of the next; the teeth ask nothing any more. Back-turn: the screw drops over the start
of its thread and is turned from there, so it may lean by a whole pitch across its diameter, not half of one.

How far the edge of a leaned tip may be off: with the edge `bite` below the mouth, the part of the rim that
is below spans half an angle b, r (1 - cos b) sin(lean) = bite; all of it is inside a hole of radius R while
its leading point is off the middle by at most R - r sqrt(sin^2 b + (1 - cos b)^2 cos^2(lean)). Derived.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from handfast.model.strategy import BackTurn, RotateWhileLowering, Spiral, TiltAndRight
from handfast.uncertainty.condition import Condition
from handfast.uncertainty.entry import Entry
from handfast.uncertainty.insertion_condition import hole_first
from handfast.uncertainty.requirement import Requirement, lateral

_CAPTURES = ("capture", "capture at least friction")


def by_strategy(entry: Entry, conditions: Iterable[Condition], stiffness: float) -> tuple[Condition, ...]:
    """Those of a straight way in, made those of the entry's own. stiffness: of the hand, sideways [N/m]."""
    how, found = entry.strategy, tuple(conditions)
    if isinstance(how, RotateWhileLowering):
        return tuple(_without_phase(c) for c in found)
    if isinstance(how, BackTurn):
        return tuple(_whole_pitch(c) for c in found)
    if isinstance(how, Spiral | TiltAndRight):
        reach = how.radius if isinstance(how, Spiral) else _leading_edge(entry, how)
        left = how.rest / stiffness
        return (_reach(entry, how.name, reach), *(_narrowed(c, left) for c in found))
    return found


def _reach(entry: Entry, name: str, reach: float) -> Condition:
    pair, what = entry.straight[0], f"the {name}'s reach"
    asked = (lateral("lateral", reach),)
    return Condition(pair, "straight", 0, what, reach, math.pi / 2, asked, what, (0.0, 0.0))


def _leading_edge(entry: Entry, how: TiltAndRight) -> float:
    """How far a leaned tip may be off for its leading edge to come down in the hole [m]; 0 if never."""
    hole, shaft = hole_first(entry.pairs[0])
    r, R = (shaft.diameter or 0.0) / 2, (hole.diameter or 0.0) / 2
    below = how.bite / (r * math.sin(how.lean)) if r > 0 else 2.0
    if below >= 1:
        return 0.0
    b = math.acos(1 - below)
    return max(0.0, R - r * math.hypot(math.sin(b), (1 - math.cos(b)) * math.cos(how.lean)))


def _without_phase(condition: Condition) -> Condition:
    return replace(condition, requirements=tuple(r for r in condition.requirements if r.period == 0))


def _whole_pitch(condition: Condition) -> Condition:
    """Only the thread's own condition knows of the pitch."""
    if condition.group != "pairs":
        return condition
    asked = tuple(
        replace(r, radii=np.arctan(2 * np.tan(r.radii))) if r.name == "lean" else r
        for r in condition.requirements
    )
    return replace(
        condition, requirements=asked, allowed_angle=math.atan(2 * math.tan(condition.allowed_angle))
    )


def _narrowed(condition: Condition, left: float) -> Condition:
    """For what is left sideways, anywhere within the clearance and `left` [m]."""
    if condition.group != "pairs":
        return condition
    off = left + max(condition.clearance[1], 0.0) / 2
    first = condition.index == 0
    kept = [r for r in condition.requirements if not (first and r.name in _CAPTURES)]
    return replace(condition, requirements=tuple(_less(r, off) for r in kept))


def _less(requirement: Requirement, off: float) -> Requirement:
    slope = float(np.linalg.norm(requirement.rows[:, :2], 2))
    return replace(requirement, radii=np.maximum(requirement.radii - slope * off, 0.0))
