"""Other ways in than straight: what they would bring, and what they cost.

Rotate while lowering: a gear is turned by up to one tooth until its teeth come down in the gaps; its phase
no longer matters. Spiral: the tip goes round in the plane of the mouth until it drops; a larger lateral
error no longer matters. Its path is pi R^2/p long for a search radius R at a pitch p of twice the capture
radius (Archimedean spiral; geometry). Both go at the insertion speed.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from handfast.model.cell import Controller
from handfast.model.ledger import Band, Strategy
from handfast.uncertainty.condition import Condition
from handfast.uncertainty.entry import Entry
from handfast.uncertainty.gear_condition import tooth_pitch
from handfast.uncertainty.judge import judge, question
from handfast.uncertainty.requirement import Requirement
from handfast.uncertainty.sources import Sources
from handfast.uncertainty.spread import spread_of

# The spiral reaches this many sigma of the worse axis (a choice, no source).
_REACH = 3.0


def strategies(
    entry: Entry, conditions: tuple[Condition, ...], sources: Sources, controller: Controller, now: Band
) -> tuple[Strategy, ...]:
    """Those that apply to a mate and bring something."""
    found = [
        _turning(entry, conditions, sources, controller),
        _spiral(entry, conditions, sources, controller),
    ]
    return tuple(s for s in found if s is not None and s.probability.low > now.low + 5e-4)


def _turning(
    entry: Entry, conditions: tuple[Condition, ...], sources: Sources, controller: Controller
) -> Strategy | None:
    pitches = [tooth_pitch(c.pair) for c in conditions if c.pair.moving.kind == "gear"]
    if not pitches:
        return None
    freed = tuple(_without_phase(c) for c in conditions)
    band = judge(question(entry, freed, sources)).band
    return Strategy(
        "rotate while lowering", band, max(pitches) / controller.insert_speed,
        "the hand turns the gear by up to one tooth until it drops",
    )  # fmt: skip


def _spiral(
    entry: Entry, conditions: tuple[Condition, ...], sources: Sources, controller: Controller
) -> Strategy | None:
    first = conditions[0]
    capture = [r.radii.min() for r in first.requirements if r.name == "capture"]
    if entry.mate.kind not in ("insert", "gear-mesh") or not capture:
        return None
    spread = spread_of(first.pair.delta, sources.variances)
    reach = float(np.linalg.norm(spread.mean[:2])) + _REACH * spread.sigma_major
    if reach <= capture[0]:
        return None
    wide = tuple(_wider(c, reach) for c in conditions)
    band = judge(question(entry, wide, sources)).band
    path = math.pi * reach**2 / (2 * float(capture[0]))
    return Strategy(
        "spiral", band, path / controller.insert_speed,
        f"the tip circles out to {reach * 1e3:.2f} mm until it drops",
    )  # fmt: skip


def _without_phase(condition: Condition) -> Condition:
    kept = tuple(r for r in condition.requirements if r.period == 0)
    return replace(condition, requirements=kept)


def _wider(condition: Condition, reach: float) -> Condition:
    def widened(r: Requirement) -> Requirement:
        if r.name not in ("capture", "capture at least friction"):
            return r
        return replace(r, radii=np.maximum(r.radii, reach))

    return replace(condition, requirements=tuple(widened(r) for r in condition.requirements))
