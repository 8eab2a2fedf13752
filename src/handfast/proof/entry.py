"""A run that begins in the middle of a chart: where the arms really stand by then."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from handfast.proof.standing import Standing


@dataclass(frozen=True)
class Entry:
    """time [s]: of the chart, at which everything before is over and nothing has begun; q: where each arm
    stands then (n,) [rad]; widths: of empty jaws [m]; to_the_end: whether every mate is to be done from
    there."""

    time: float
    q: Mapping[str, tuple[float, ...]]
    widths: Mapping[str, float]
    to_the_end: bool = True

    def words(self) -> str:
        """What the proof takes as it is."""
        before = f"what the chart has before {self.time:.2f} s"
        return f"{before} is done as it says, and was looked at before the run went on"


def entered(standing: Standing, entry: Entry) -> Standing:
    """How things stand at the entry: items as the chart left them, arms where they are."""
    for arm, q in entry.q.items():
        standing = standing.at(arm, np.array(q))
        if arm not in standing.holds and arm in entry.widths:
            standing = standing.opened(arm, entry.widths[arm])
    return standing
