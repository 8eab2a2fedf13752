"""What a strategy makes of a mate's entry: what it finds is found for all its pairs.

A spiral, or tilting and righting, ends with the tip in the hole wherever that is: the lateral error of the
first pair is gone, and all other pairs move along as the part does. What is left of it, the clearance and
what side force the hand leaves, is asked for by the conditions (`by_strategy`).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from handfast.model.strategy import Spiral, Strategy, TiltAndRight
from handfast.uncertainty.entry import Entry, PairEntry
from handfast.uncertainty.error_form import added, mapped

_LATERAL = np.diag([1.0, 1.0, 0.0, 0.0, 0.0, 0.0])


def entered_by(entry: Entry, how: Strategy | None) -> Entry:
    """The same entry by another strategy, None for straight; touches and all else as they are."""
    plain = replace(entry, pairs=entry.straight or entry.pairs, strategy=how, straight=())
    if not isinstance(how, Spiral | TiltAndRight):
        return plain
    first = plain.pairs[0]
    return replace(plain, pairs=tuple(_found(first, p) for p in plain.pairs), straight=plain.pairs)


def _found(first: PairEntry, pair: PairEntry) -> PairEntry:
    """The pair once the part has been moved until the first pair's lateral error is gone."""
    taken_back = -pair.shift @ _LATERAL
    return replace(
        pair,
        delta=added(pair.delta, mapped(taken_back, first.delta)),
        shift=pair.shift + taken_back @ first.shift,
    )
