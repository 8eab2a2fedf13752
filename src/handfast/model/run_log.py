"""What happened in a run, line by line."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.spatial.pose import Pose


@dataclass(frozen=True, slots=True)
class LogLine:
    """One event. time_s: of the cell's clock; element: id; event: "start", "done", "contact", "width",
    "insertion", "screw", "estimate", "correction", "stop"; values in SI, named; pose where one was
    measured; text for a person."""

    time_s: float
    element: str
    event: str
    values: tuple[tuple[str, float], ...] = ()
    pose: Pose | None = None
    text: str = ""


@dataclass(frozen=True, slots=True)
class RunLog:
    """One build through one cell. ended: "done" or "stopped"; reason, when stopped: what a person must do."""

    chart_sha256: str
    cell: str
    lines: tuple[LogLine, ...]
    ended: str
    reason: str = ""
