"""Which elements make the cycle as long as it is."""

from __future__ import annotations

from handfast.model.chart import Chart
from handfast.model.element import Element

_SAME_S = 0.005
_WAITS = ("hold", "delay")


def critical_path(chart: Chart) -> tuple[int, ...]:
    """Numbers of elements in order of time: a chain in which each begins when the one before it ends, back
    from the end of the cycle; shortening the cycle means shortening one of these.

    Holds and delays are waits and never on it: the chain goes on with what they wait for. Of several that end
    together it follows the one in the same hand. Where nothing ends at an element's start, it goes on with
    what ended last before (idle time is then part of the cycle).
    """
    working = [e for e in chart.elements if e.kind not in _WAITS]
    chain: list[Element] = []
    now = _last(working, float("inf"), "")
    while now is not None:
        chain.append(now)
        now = _last([e for e in working if e.start_s < now.start_s - 1e-9], now.start_s, now.hand)
    return tuple(e.number for e in reversed(chain))


def _last(elements: list[Element], before: float, hand: str) -> Element | None:
    """What ends last, but not after that time."""
    ended = [e for e in elements if e.start_s + e.duration_s <= before + _SAME_S]
    if not ended:
        return None
    latest = max(e.start_s + e.duration_s for e in ended)
    together = [e for e in ended if e.start_s + e.duration_s > latest - _SAME_S]
    return next((e for e in together if e.hand == hand), together[0])
