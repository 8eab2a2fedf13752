"""A simulated cell that a person can follow on the page, and stop."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

from handfast.execution.cell import Cell, CellError
from handfast.model.chart import Chart
from handfast.model.motion import Motion
from handfast.page.wording import phrase

FASTER = 5  # times as fast as the cell would go
_TOLD = ("move", "grip", "release", "guarded_move", "insert", "drive")


class ToldCell:
    """Says what it is asked to do, and where in the chart that is; slow enough to be followed. Once `stop` is
    set it refuses every further command."""

    def __init__(
        self, cell: Cell, chart: Chart, say: Callable[[float, str], None], stop: threading.Event
    ) -> None:
        self._cell, self._say, self._stop, self._now = cell, say, stop, 0.0
        self._places: dict[Motion, tuple[float, str]] = {}
        for element in sorted(chart.elements, key=lambda e: e.number):
            start = element.start_s + element.before_s
            for motion in element.motions:
                start += motion.duration
                self._places[motion] = (start, f"{element.hand}: {element.number} {phrase(element)}")

    def __getattr__(self, name: str) -> Any:
        """Everything is the cell's own; the commands that a person follows are told after they are done."""
        own = getattr(self._cell, name)
        return self._telling(name, own) if name in _TOLD else own

    def _telling(self, name: str, command: Callable[..., Any]) -> Callable[..., Any]:
        def told(arm: str, *arguments: Any) -> Any:
            if self._stop.is_set():
                raise CellError("stopped by the operator")
            before = self._cell.clock()
            answer = command(arm, *arguments)
            self._stop.wait(max(0.0, self._cell.clock() - before) / FASTER)
            motion = next((a for a in arguments if isinstance(a, Motion)), None)
            found = self._places.get(motion) if motion is not None else None
            if found is not None:
                self._now = found[0]
                self._say(self._now, found[1])
            elif name != "move":
                self._say(self._now, f"{arm}: {name.replace('_', ' ')}")
            return answer

        return told
