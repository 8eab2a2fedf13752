"""What happened in a run, line by line."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.model.recovery import Cause
from handfast.spatial.pose import Pose


@dataclass(frozen=True, slots=True)
class LogLine:
    """One event. time_s: of the cell's clock; element: id; event: "start", "done", "stands", "seen",
    "contact", "width", "wrench", "insertion", "screw", "estimate", "correction", "failure", "recovery",
    "stop"; values in SI, named; pose where one was measured; text for a person; cause of a failure."""

    time_s: float
    element: str
    event: str
    values: tuple[tuple[str, float], ...] = ()
    pose: Pose | None = None
    text: str = ""
    cause: Cause = ""

    def value(self, name: str) -> float | None:
        """The value of that name, None if there is none."""
        return dict(self.values).get(name)


@dataclass(frozen=True, slots=True)
class RunLog:
    """One build through one cell. ended: "done" or "stopped"; reason, when stopped: what a person must do;
    cause: why it stopped; first: number of the element that it began with."""

    chart_sha256: str
    cell: str
    lines: tuple[LogLine, ...]
    ended: str
    reason: str = ""
    cause: Cause = ""
    first: int = 1
