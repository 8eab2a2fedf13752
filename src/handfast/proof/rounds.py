"""Tightening patterns: which round of which screw is due, and what a screw holds down by then."""

from __future__ import annotations

import math

from handfast.model.mate import Mate
from handfast.model.product import Product
from handfast.model.tightening import Tightening
from handfast.proof.standing import Standing
from handfast.standards.tabled_value_error import TabledValueError
from handfast.standards.threads import coarse_thread


def pattern_of(product: Product, mate: str) -> Tightening | None:
    """The pattern that a screw is tightened in, None for one that is driven home in one go."""
    return next((pattern for pattern in product.tightenings if mate in pattern.screws), None)


def rounds_had(standing: Standing, mate: str) -> int:
    """How many rounds of its pattern a screw has had."""
    return standing.rounds.get(mate, 0)


def others_first(standing: Standing, pattern: Tightening, mate: str) -> list[str]:
    """Screws whose turn it is before this one's next round: those written before it have had as many rounds
    and this one too, those after it as many as it has."""
    had, place = rounds_had(standing, mate), pattern.screws.index(mate)
    before = [screw for screw in pattern.screws[:place] if rounds_had(standing, screw) < had + 1]
    after = [screw for screw in pattern.screws[place + 1 :] if rounds_had(standing, screw) < had]
    return after + before


def retains(product: Product, standing: Standing, mate: str) -> bool:
    """True if a mate holds down what waits for it: done, or a screw of a pattern that has reached its first
    torque."""
    pattern = pattern_of(product, mate)
    if mate in standing.done or pattern is None:
        return mate in standing.done
    return any(stage.torque is not None for stage in pattern.stages[: rounds_had(standing, mate)])


def pitch_of(product: Product, mate: Mate) -> float | None:
    """Pitch of a screw [m], None if its thread is not in the table."""
    try:
        return coarse_thread(product.part(mate.part).feature(mate.pairs[0].moving).thread or "").pitch
    except TabledValueError:
        return None


def in_words(pattern: Tightening, had: int) -> str:
    """A round as the pattern has it: "round 2 of 3 of 'lid' (0.3 N m)"."""
    stage = pattern.stages[had]
    until = f"{stage.torque} N m" if stage.turns is None else f"{stage.turns / math.tau:g} turns"
    return f"round {had + 1} of {len(pattern.stages)} of {pattern.name!r} ({until})"
