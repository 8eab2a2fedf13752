"""A run log in a file, written line by line as the run goes on (docs/run-log.md)."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

from handfast import __version__
from handfast.files.errors import NewerSchemaError, RecordError, UnreadableRecordError, WrongKindError
from handfast.files.log_lines import LineWriter, read_lines
from handfast.files.record_kinds import KINDS
from handfast.files.typed_json import from_json, to_json
from handfast.model.run_log import LogLine, RunLog

_LASTING = ("done", "stop")  # what must not be lost even if the power fails


@dataclass(frozen=True, slots=True)
class LogHead:
    """What stands at the top of a log."""

    project: str
    chart_sha256: str
    cell: str
    first: int
    seed: int


class RunLogWriter:
    """Writes a run log as it goes. Use as a sink: `writer.line(log_line)`."""

    def __init__(self, lines: LineWriter, head: LogHead) -> None:
        self._lines = lines
        told = {"kind": "run-log", "schema": KINDS["run-log"][1], "tool_version": __version__}
        lines.write({**told, **to_json(head, LogHead)}, lasting=True)

    def line(self, line: LogLine) -> None:
        """One event."""
        self._lines.write(to_json(line, LogLine), lasting=line.event in _LASTING)

    def end(self, log: RunLog) -> None:
        """How it ended."""
        self._lines.write({"ended": log.ended, "reason": log.reason, "cause": log.cause}, lasting=True)


@dataclass(frozen=True, slots=True)
class ReadLog:
    """head; log: its lines as far as they can be read, `ended` "stopped" if no end was written; damage: where
    it breaks off, "" if it is whole."""

    head: LogHead
    log: RunLog
    damage: str


def read_run_log(path: str | Path) -> ReadLog:
    """Read a log up to its damage, if any. Raises RecordError if not even its head can be read."""
    shown = str(path)
    try:
        found = read_lines(Path(path))
    except OSError as error:
        raise UnreadableRecordError(shown, "a run log", error.strerror or "none") from error
    if not found.lines:
        raise UnreadableRecordError(shown, "a run log", found.damage or "an empty file")
    head = _head(shown, found.lines[0])
    lines: list[LogLine] = []
    end: dict[str, Any] | None = None
    damage = found.damage
    for number, line in enumerate(found.lines[1:], 2):
        if "ended" in line:
            end = line
            continue
        try:
            lines.append(from_json(line, LogLine))
        except RecordError as error:
            damage = f"line {number}: {error}"
            break
    if end is None and not damage:
        damage = "it has no end: the run was broken off"
    told = end or {"ended": "stopped", "reason": f"the log breaks off: {damage}", "cause": ""}
    log = RunLog(head.chart_sha256, head.cell, tuple(lines), str(told["ended"]), str(told["reason"]),
                 cast(Any, told.get("cause", "")), head.first)  # fmt: skip
    return ReadLog(head, log, damage)


def _head(shown: str, line: dict[str, Any]) -> LogHead:
    if line.get("kind") != "run-log":
        raise WrongKindError(
            shown, "a run log", f"{line.get('kind')!r}", "name a file that `run` has written"
        )
    newest, schema, version = KINDS["run-log"][1], line.get("schema"), line.get("tool_version")
    if not isinstance(schema, int) or schema > newest:
        fix = f"read it with version {version} or later"
        raise NewerSchemaError(shown, f"a run log of schema {newest} or older", f"schema {schema}", fix)
    kept = {k: v for k, v in line.items() if k not in ("kind", "schema", "tool_version")}
    try:
        head: LogHead = from_json(kept, LogHead)
    except RecordError as error:
        raise UnreadableRecordError(shown, error.expected, error.found) from error
    return head
