"""How a mate may end, in words of its kind, each with its chance at the sure end."""

from __future__ import annotations

import math
from dataclasses import replace

from handfast.model.ledger import Band, Closed, Outcome, Pressing
from handfast.uncertainty.after_entry import AfterEntry
from handfast.uncertainty.closing import Closing
from handfast.uncertainty.entry import Entry


def outcomes(entry: Entry, after: AfterEntry, low: float, placed: float) -> tuple[Outcome, ...]:
    """Of a screw or a pressed part; nothing of others. low: sure end of all that is asked of where the part
    comes in, with parts as drawn; placed: of that without its lean.

    A screw that is not where it should be does not start, one that leans too much is crossed; of those that
    start, some strip, and of the others some meet the bottom.
    """
    if entry.mate.kind == "screw":
        stripped = low * after.stripped
        bottomed = (low - stripped) * after.bottomed
        return _told(
            ("ok", low - stripped - bottomed), ("not started", 1 - placed), ("crossed", placed - low),
            ("stripped", stripped), ("bottomed", bottomed),
        )  # fmt: skip
    if after.press is not None:
        ok = low * after.press.sure
        return _told(("ok", ok), ("not started", 1 - low), ("too much force", low - ok))
    return ()


def pressing(after: AfterEntry) -> Pressing | None:
    """The forces of a pressed part."""
    press = after.press
    return None if press is None else Pressing(press.middle, press.most, press.limit)


def jaws(entry: Entry) -> tuple[Closed, ...]:
    """Each grasp for a mate."""
    return tuple(
        Closed(
            c.element,
            c.item,
            _told((_as_it_closes(c), c.slide), ("catch", c.catch), ("miss", c.miss)),
            c.before,
            c.after,
        )
        for c in entry.closings
    )


def _as_it_closes(closed: Closing) -> str:
    """What the item does where the jaws come down beside it."""
    if closed.bends is None:
        return "slide"
    return f"held fast by its place, the hand bent with {closed.bends:.2g} N"


def besides(entry: Entry, after: AfterEntry) -> tuple[float, float]:
    """Chance that all goes well which does not hang on where the part comes in: jaws close on it, and what
    comes after. At the sure end and the other."""
    sure, other = after.good
    held = math.prod(c.slide for c in entry.closings)
    return held * sure, held * other


def at_most(band: Band, share: float) -> Band:
    """The band of a mate whose parts can go together in a share of lots only, whatever binds the two."""
    return replace(band, low=max(0.0, band.low + share - 1), high=min(band.high, share))


def with_besides(band: Band, chance: tuple[float, float]) -> Band:
    """The band of a mate for which that has to go well, too, whatever way its part comes in."""
    return Band(band.low * chance[0], band.high * chance[1], band.model_dependent)


def _told(*each: tuple[str, float]) -> tuple[Outcome, ...]:
    # Differences of chances may fall below nothing by rounding.
    return tuple(Outcome(name, max(0.0, value)) for name, value in each)
