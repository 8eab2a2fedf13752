"""What a calibration invalidates once it is taken over: exactly which elements, mates and records."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.model.basis import Basis
from handfast.model.chart import Chart
from handfast.model.source_proposal import SourceProposals


@dataclass(frozen=True, slots=True)
class Invalidated:
    """elements: of the chart, by number, that have to be planned anew, by what they were planned for (a mate,
    a pattern, "way home"); stand: what stays, if it keeps clear of where the arms then stand; of: how many
    elements there are, holds and delays apart; mates: whose chance in the ledger is another."""

    elements: tuple[tuple[str, tuple[int, ...]], ...]
    stand: tuple[str, ...]
    of: int
    mates: tuple[str, ...]


def invalidated(found: SourceProposals, chart: Chart, basis: Basis) -> Invalidated:
    """By arms that are written to stand elsewhere: all that was planned with one of them. Errors are not read
    by planning: measured ones change chances, not motions."""
    arms = {m.arm for m in found.moves if m.worth}
    hands = {e.number: e.hand for e in chart.elements}
    lost, stand = [], []
    for unit in basis.units:
        if arms & {name.removeprefix("arm ") for name, _ in unit.read if name.startswith("arm ")}:
            lost.append((unit.name, tuple(sorted(d.number for d in unit.done))))
        else:
            stand.append(unit.name)
    home = tuple(d.number for d in basis.way_home if hands[d.number] in arms)
    lost += [("way home", home)] if home else []
    of = sum(len(u.done) for u in basis.units) + len(basis.way_home)
    return Invalidated(tuple(lost), tuple(stand), of, found.mates)
