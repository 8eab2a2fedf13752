"""The log of a run as it grows."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field

from handfast.execution.cell import Cell, CellError, Felt
from handfast.model.element import Element
from handfast.model.recovery import Cause
from handfast.model.run_log import LogLine, RunLog
from handfast.spatial.pose import Pose

Sink = Callable[[LogLine], None]


@dataclass(slots=True)
class Journal:
    """Lines stamped with the cell's own clock. first: number of the element that the run begins with; sink:
    told
    each line at once; time: of the cell's clock, as last read [s]."""

    cell: Cell
    chart_sha256: str
    lines: list[LogLine] = field(default_factory=list)
    first: int = 1
    sink: Sink | None = None
    time: float = 0.0

    def note(
        self, element: Element, event: str, text: str = "", pose: Pose | None = None, **values: float
    ) -> None:
        """One line. values: in SI, by name."""
        self.add(element, event, values, text, pose)

    def add(
        self,
        element: Element,
        event: str,
        values: Mapping[str, float],
        text: str = "",
        pose: Pose | None = None,
        cause: Cause = "",
    ) -> None:
        """One line, with the cause of a failure where there is one."""
        named = tuple((k, float(v)) for k, v in values.items())
        with suppress(
            CellError
        ):  # a cell that is lost has no clock; what it did before is logged all the same
            self.time = self.cell.clock()
        self._write(LogLine(self.time, element.id, event, named, pose, text, cause))

    def felt(self, element: Element, time: float, felt: Felt) -> None:
        """What a hand felt at a time that has passed [s], of the cell's clock."""
        values = (("along", felt.along), ("across", felt.across), ("moment", felt.moment))
        self._write(LogLine(time, element.id, "wrench", values))

    def _write(self, line: LogLine) -> None:
        self.lines.append(line)
        if self.sink is not None:
            self.sink(line)

    def stands(self, element: Element, hand: str, event: str = "stands") -> None:
        """Where a hand stands, and how wide it is open."""
        state = self.cell.state(hand)
        joints = {f"q{i}": value for i, value in enumerate(state.q, 1)}
        self.add(element, event, {"width": state.width, **joints}, hand)

    def ended(self, reason: str = "", cause: Cause = "") -> RunLog:
        """The finished log. reason: why it stopped and what a person must do, "" if it is done."""
        ended = "stopped" if reason else "done"
        lines = tuple(self.lines)
        return RunLog(self.chart_sha256, self.cell.name, lines, ended, reason, cause, self.first)
