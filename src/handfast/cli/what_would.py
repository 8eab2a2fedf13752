"""What would bring a mate to a chance that it does not reach, with numbers."""

from __future__ import annotations

from handfast.model.ledger import MateRow
from handfast.uncertainty.verdict import percent

_SHOWN = 4
_GAIN = 1e-5


def what_would(row: MateRow, target: float) -> str:
    """The strongest ways that are known, each by itself, and whether one of them reaches the target
    (0..1)."""
    ways = [
        (row.probability.low + c.gained_if_halved, f"{c.source} half as large, about")
        for c in row.contributors
        if c.gained_if_halved > _GAIN
    ]
    ways += [(s.probability.low, f"{s.name},") for s in row.strategies]
    if row.probability_within.low > row.probability.low + _GAIN:
        ways.append((row.probability_within.low, "the cell set right on first articles,"))
    if row.assemblable < target:
        return f"drawn parts that go together in more than {percent(row.assemblable)} of lots"
    if not ways:
        return "nothing that is known: the errors are not what it fails by"
    best = sorted(ways, key=lambda way: -way[0])[:_SHOWN]
    told = "; ".join(f"{how} {percent(min(1.0, chance))}" for chance, how in best)
    reaches = any(chance >= target for chance, _ in best)
    return told if reaches else f"{told}; none of these reaches it alone"
