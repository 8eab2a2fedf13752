"""What a mate gains with a source half as large, from the chart walked anew with it: exact, and slow."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from handfast.model.ledger import MateRow
from handfast.uncertainty.after_entry import after_entry
from handfast.uncertainty.assemblable import share_of_lots, together
from handfast.uncertainty.conditions_of import conditions_of
from handfast.uncertainty.jaws import Given
from handfast.uncertainty.judge import judge, question
from handfast.uncertainty.outcomes import at_most, besides, with_besides
from handfast.uncertainty.walk import walk


def gained_anew(given: Given, row: MateRow, names: Iterable[str]) -> MateRow:
    """The row with the gains of these sources worked out anew, every mate before it included."""
    gains = {name: _low(given, row.mate, name) - row.probability.low for name in names}
    found = (
        replace(c, gained_if_halved=gains[c.source], exact=True) if c.source in gains else c
        for c in row.contributors
    )
    return replace(row, contributors=tuple(found))


def _low(given: Given, mate: str, name: str) -> float:
    """The sure end of a mate's chance with one source half as large."""
    project, sources = given.project, given.sources.halved(name)
    # A screw may be driven on later: all its rounds count.
    last = [e.id for e in given.chart.elements if e.mate == mate and e.kind in ("assemble", "use")][-1]
    entries = walk(replace(given, sources=sources), last)
    entry = next(e for e in entries if e.mate.name == mate)
    parts = together(project.product, entry, sources)
    share = 1.0 if parts is None else share_of_lots(parts, sources)
    band = judge(question(entry, conditions_of(project, entry), sources)).band
    return with_besides(at_most(band, share), besides(entry, after_entry(project.product, entry))).low
