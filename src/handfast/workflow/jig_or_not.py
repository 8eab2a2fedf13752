"""Jig or no jig, mate by mate: seconds, yield, weeks, and what a good build costs either way.

Without: the elements of the mate as the chart has them, its touches and its strategy among them, and the
chance that the ledger shows. With: the same without touches and strategy, but the part is laid in and clamped
first; what the parts themselves err still counts, all else is taken as exact. A mate that fails costs a stop.
Of a year's N builds each bears the N-th part of the jig and of its changes.
"""

from __future__ import annotations

from dataclasses import dataclass

from handfast.model.chart import Chart
from handfast.model.economy import Economy
from handfast.model.ledger import Ledger, MateRow
from handfast.model.project import Project

_IDLE = ("delay", "hold")
# Holders that are made for one product.
_FIXTURES = ("nest", "presenter", "tray")


@dataclass(frozen=True, slots=True)
class Either:
    """One way: seconds a cycle [s], yield_ at the sure end, cost of a good build."""

    seconds: float
    yield_: float
    cost: float


@dataclass(frozen=True, slots=True)
class JigRow:
    """One mate without and with a jig; breaks_even: good builds a year from which the jig is cheaper, None if
    never."""

    mate: str
    without: Either
    jig: Either
    breaks_even: float | None


def jig_or_not(project: Project, chart: Chart, ledger: Ledger) -> tuple[JigRow, ...]:
    """A row for each mate of the ledger, in its order."""
    return tuple(_row(project.economy, chart, row) for row in ledger.rows)


def fixtures(project: Project) -> tuple[str, ...]:
    """Fixtures that the cell has already: nests, presenters, trays shaped for the parts."""
    return tuple(f"{h.name} ({h.kind})" for h in project.cell.holders if h.kind in _FIXTURES)


def _row(money: Economy, chart: Chart, row: MateRow) -> JigRow:
    own = [e for e in chart.elements if e.mate == row.mate and e.kind not in _IDLE]
    now = sum(e.duration_s for e in own)
    at = {e.id: i for i, e in enumerate(own)}
    touching = {i for e, i in at.items() if own[i].kind == "locate"}
    # A touch has the move that leads to it.
    touching |= {i - 1 for i in touching if i and own[i - 1].kind == "move"}
    saved = sum(own[i].duration_s for i in touching)
    saved += sum(e.strategy.seconds for e in own if e.strategy is not None)
    without = _either(money, now, row.probability.low, 0.0)
    held = money.jig + money.changes * money.change
    seconds = now - saved + money.jig_seconds
    free = _either(money, seconds, row.probability_in_jig.low, 0.0)
    gain = without.cost - free.cost
    return JigRow(
        row.mate,
        without,
        _either(money, seconds, row.probability_in_jig.low, held / money.builds),
        held / gain if gain > 0 else None,
    )


def _either(money: Economy, seconds: float, chance: float, share: float) -> Either:
    """share: of the jig, that one build bears."""
    good = max(chance, 1e-6)
    return Either(seconds, chance, (seconds * money.hour / 3600 + (1 - chance) * money.stop) / good + share)
