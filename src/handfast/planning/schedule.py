"""Elements in time: numbers, ids, start times, holds and delays."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from handfast.model.element import Element, WaitsFor
from handfast.planning.waits import Wait

_TINY = 1e-6
_DONE: WaitsFor = "nothing more to do"


def one_at_a_time(elements: tuple[Element, ...], hands: tuple[str, ...]) -> tuple[Element, ...]:
    """One hand moves at a time, in the given order; what the other does meanwhile is a hold or a delay of its
    own."""
    placed: list[Element] = []
    clock = 0.0
    for e in elements:
        placed.append(replace(e, start_s=clock))
        clock += e.duration_s
    return numbered(tuple(placed), hands, {k: Wait("its turn", k - 1) for k in range(1, len(placed))})


def numbered(
    elements: tuple[Element, ...], hands: tuple[str, ...], waits: Mapping[int, Wait]
) -> tuple[Element, ...]:
    """Elements that have their times, with the holds and delays between them, numbered and named. waits: why
    one of them, by its place, begins no sooner than it does."""
    placed: list[tuple[Element, Wait | None]] = [(e, None) for e in elements]
    end = max((e.start_s + e.duration_s for e in elements), default=0.0)
    for hand in hands:
        placed += _between(elements, hand, end, waits)
    placed.sort(key=lambda one: (round(one[0].start_s, 9), hands.index(one[0].hand)))
    named = [
        replace(e, number=i, id=f"{e.mate}/{i:02d}-{e.kind}-{e.hand}") for i, (e, _) in enumerate(placed, 1)
    ]
    ids = {_key(e): e.id for e in named}
    return tuple(
        e if wait is None else _told(e, wait, None if wait.place < 0 else elements[wait.place], ids)
        for e, (_, wait) in zip(named, placed, strict=True)
    )


def _key(e: Element) -> tuple[str, float]:
    return e.hand, e.start_s


def _told(gap: Element, wait: Wait, awaited: Element | None, ids: Mapping[tuple[str, float], str]) -> Element:
    """A hold or delay that says what it waits for."""
    words = "has nothing more to do" if wait.waits_for == _DONE else f"waits for {wait.waits_for}"
    if awaited is None:
        return replace(gap, waits_for=wait.waits_for, cause=words)
    goal = awaited.target if awaited.target in ("home", "clear") else ""
    what = " ".join(w for w in (awaited.kind, awaited.object, goal) if w)
    words = (
        f"waits for the {awaited.hand} hand"
        if wait.waits_for == "its turn"
        else f"{words}: {awaited.hand} hand, {what}"
    )
    return replace(gap, waits_for=wait.waits_for, until=ids[_key(awaited)], cause=words)


def _between(
    elements: tuple[Element, ...], hand: str, end: float, waits: Mapping[int, Wait]
) -> list[tuple[Element, Wait | None]]:
    """Holds and delays that fill a hand's gaps."""
    out: list[tuple[Element, Wait | None]] = []
    clock, held, mate = 0.0, "", elements[-1].mate if elements else ""
    for k, e in [*((k, e) for k, e in enumerate(elements) if e.hand == hand), (-1, None)]:
        start = e.start_s if e is not None else end
        if start - clock > _TINY:
            kind = "hold" if held else "delay"
            serves = e.mate if e is not None else mate
            gap = Element("", 0, hand, kind, held, "", serves, clock, start - clock)  # type: ignore[arg-type]
            rounding: WaitsFor = "the step of the time grid" if e is not None else _DONE
            out.append((gap, waits.get(k, Wait(rounding, -1))))
        if e is not None:
            clock = e.start_s + e.duration_s
            held = _holds_after(e, held)
    return out


def _holds_after(e: Element, held: str) -> str:
    if e.kind == "grasp":
        return e.object
    return "" if e.kind == "release" else held
