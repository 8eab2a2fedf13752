"""The log of a run as it grows."""

from __future__ import annotations

from dataclasses import dataclass, field

from handfast.execution.cell import Cell
from handfast.model.element import Element
from handfast.model.run_log import LogLine, RunLog
from handfast.spatial.pose import Pose


@dataclass(slots=True)
class Journal:
    """Lines stamped with the cell's own clock."""

    cell: Cell
    chart_sha256: str
    lines: list[LogLine] = field(default_factory=list)

    def note(
        self, element: Element, event: str, text: str = "", pose: Pose | None = None, **values: float
    ) -> None:
        """One line. values: in SI, by name."""
        named = tuple((k, float(v)) for k, v in values.items())
        self.lines.append(LogLine(self.cell.clock(), element.id, event, named, pose, text))

    def ended(self, reason: str = "") -> RunLog:
        """The finished log. reason: why it stopped and what a person must do, "" if it is done."""
        return RunLog(
            self.chart_sha256, self.cell.name, tuple(self.lines), "stopped" if reason else "done", reason
        )
