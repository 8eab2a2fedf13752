"""A chart that goes on in the middle: what is done, a way in or out, and what is left."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from handfast.model.chart import Chart
from handfast.model.element import Element

# Between what is done and what comes: so that the verifier can tell them apart [s].
GAP = 1.0


class NoWayError(Exception):
    """There is no way in or out; the message says why and what a person can do."""


class StandsClearError(NoWayError):
    """There is nothing to lead back: the hand stands clear. number: of the element to go on with."""

    def __init__(self, hand: str, number: int) -> None:
        super().__init__(f"the {hand} hand stands clear; go on with `run --from {number}`")
        self.number = number


@dataclass(frozen=True, slots=True)
class Resumed:
    """chart: whole, elements before `first` done; time [s]: at which it goes on; q: where each arm stands
    then (n,) [rad]; widths: of its jaws [m]; to_the_end: whether every mate is done at its end."""

    chart: Chart
    first: int
    time: float
    q: Mapping[str, tuple[float, ...]]
    widths: Mapping[str, float]
    to_the_end: bool = True


def done_before(chart: Chart, number: int) -> tuple[tuple[Element, ...], float]:
    """The elements before `number`, each done whole, holds and delays cut off where it goes on; and the time
    at which it all goes on, when the last of them has ended: a run carries out one after another."""
    kept = [e for e in chart.elements if e.number < number]
    working = [e.start_s + e.duration_s for e in kept if e.kind not in ("hold", "delay")]
    begins = max([chart.element(number).start_s, *working])
    cut = [replace(e, duration_s=min(e.duration_s, max(begins - e.start_s, 0.0))) for e in kept]
    return tuple(cut), begins + GAP


def joined(chart: Chart, before: tuple[Element, ...], way: tuple[Element, ...], left: tuple[Element, ...],
           time: float) -> Chart:  # fmt: skip
    """What is done, a way one element after another from `time` [s] on, and what is left behind it."""
    clock, placed = time, []
    for element in way:
        placed.append(replace(element, start_s=clock))
        clock += element.duration_s
    later = clock - min((e.start_s for e in left), default=clock)
    rest = [replace(e, start_s=e.start_s + later) for e in left]
    elements = tuple(replace(e, number=i) for i, e in enumerate([*before, *placed, *rest], 1))
    end = max((e.start_s + e.duration_s for e in elements), default=clock)
    return replace(chart, elements=elements, makespan_s=end)
