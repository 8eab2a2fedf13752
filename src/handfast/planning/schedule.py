"""Elements in time: numbers, ids, start times, holds and delays."""

from __future__ import annotations

from dataclasses import replace

from handfast.model.element import Element

_TINY = 1e-6


def one_at_a_time(elements: tuple[Element, ...], hands: tuple[str, ...]) -> tuple[Element, ...]:
    """One hand moves at a time, in the given order; what the other does meanwhile is a hold or a delay of its
    own."""
    placed: list[Element] = []
    clock = 0.0
    for e in elements:
        placed.append(replace(e, start_s=clock))
        clock += e.duration_s
    return numbered(tuple(placed), hands)


def numbered(elements: tuple[Element, ...], hands: tuple[str, ...]) -> tuple[Element, ...]:
    """Elements that have their times, with the holds and delays between them, numbered and named."""
    placed = list(elements)
    clock = max((e.start_s + e.duration_s for e in placed), default=0.0)
    for hand in hands:
        placed += _between(placed, hand, clock)
    placed.sort(key=lambda e: (round(e.start_s, 9), hands.index(e.hand)))
    return tuple(
        replace(e, number=i, id=f"{e.mate}/{i:02d}-{e.kind}-{e.hand}") for i, e in enumerate(placed, 1)
    )


def _between(placed: list[Element], hand: str, end: float) -> list[Element]:
    """Holds and delays that fill a hand's gaps."""
    own = [e for e in placed if e.hand == hand]
    out: list[Element] = []
    clock, held = 0.0, ""
    for e in [*own, None]:
        start = e.start_s if e is not None else end
        if start - clock > _TINY:
            busy = next(
                (o for o in placed if o.start_s + o.duration_s > clock + _TINY and o.hand != hand), placed[-1]
            )
            kind = "hold" if held else "delay"
            cause = f"waits for the {busy.hand} hand"
            mate = e.mate if e is not None else busy.mate
            out.append(Element("", 0, hand, kind, held, "", mate, clock, start - clock, cause=cause))  # type: ignore[arg-type]
        if e is not None:
            clock = e.start_s + e.duration_s
            held = _holds_after(e, held)
    return out


def _holds_after(e: Element, held: str) -> str:
    if e.kind == "grasp":
        return e.object
    return "" if e.kind == "release" else held
