"""Jig or no jig, mate by mate: seconds, yield, and what a good build costs either way.

Without: the elements of the mate as the chart has them, its touches and its strategy among them, and the
chance that the ledger shows. With: straight in without touches, but the part is laid in and clamped first;
what the parts themselves err still counts, all else is taken as exact. A mate that fails costs a stop, so a
good build costs

    (seconds * cost of a second + (1 - yield) * cost of a stop) / yield,

and of a year's N good builds each bears the N-th part of a jig and of its changes, the jig written off in
one.
"""

from __future__ import annotations

from dataclasses import dataclass

from handfast.model.chart import Chart
from handfast.model.economy import Economy
from handfast.model.element import Element
from handfast.model.ledger import Ledger, MateRow
from handfast.model.project import Project

_IDLE = ("delay", "hold")
# What is made for one product; a tool stand is not.
_FIXTURES = ("nest", "presenter", "tray", "set-down")


@dataclass(frozen=True, slots=True)
class Either:
    """One way: seconds a cycle [s], yield_ at the sure end, cost of a good build, None where none is sure."""

    seconds: float
    yield_: float
    cost: float | None


@dataclass(frozen=True, slots=True)
class JigRow:
    """One mate without and with a jig; breaks_even: good builds a year from which the jig is cheaper, None if
    there is no such number."""

    mate: str
    without: Either
    jig: Either
    breaks_even: float | None

    @property
    def jig_is_cheaper(self) -> bool:
        """At the number of builds that is asked for."""
        if self.jig.cost is None:
            return False
        return self.without.cost is None or self.jig.cost < self.without.cost


def jig_or_not(project: Project, chart: Chart, ledger: Ledger) -> tuple[JigRow, ...]:
    """A row for each mate of the ledger, in its order."""
    return tuple(_row(project.economy, chart, row) for row in ledger.rows)


def fixtures(project: Project) -> tuple[str, ...]:
    """What is made for this product in the cell already, and so a fixture: nests, presenters, and trays and
    set-downs, whose places and grooves are shaped for their parts; tool stands are not."""
    return tuple(f"{h.name} ({h.kind})" for h in project.cell.holders if h.kind in _FIXTURES)


def _row(money: Economy, chart: Chart, row: MateRow) -> JigRow:
    own = [e for e in chart.elements if e.mate == row.mate and e.kind not in _IDLE]
    now = sum(e.duration_s for e in own)
    with_jig = now - _spared(own) + money.jig_seconds
    held = money.jig + money.changes * money.change
    without = _cost(money, now, row.probability.low)
    free = _cost(money, with_jig, row.probability_in_jig.low)
    gain = 0.0 if without is None or free is None else without - free
    return JigRow(
        row.mate,
        Either(now, row.probability.low, without),
        Either(with_jig, row.probability_in_jig.low, None if free is None else free + held / money.builds),
        held / gain if gain > 0 else None,
    )


def _spared(own: list[Element]) -> float:
    """Seconds of touches, of the move from each to what comes next, and of a strategy: a jig needs none."""
    touching = {i for i, e in enumerate(own) if e.kind == "locate"}
    touching |= {i + 1 for i in touching if own[i + 1 : i + 2] and own[i + 1].kind == "move"}
    strategies = sum(e.strategy.seconds for e in own if e.strategy is not None)
    return sum(own[i].duration_s for i in touching) + strategies


def _cost(money: Economy, seconds: float, chance: float) -> float | None:
    """Of a good build, None where none is sure."""
    if chance <= 0:
        return None
    return (seconds * money.hour / 3600 + (1 - chance) * money.stop) / chance
