"""What `handfast run` and `handfast trial` do in another terminal, as their files in records/ tell it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from handfast.files.errors import RecordError
from handfast.files.going import GOING
from handfast.files.record_json import RECORDS_FOLDER
from handfast.files.run_log_file import read_run_log
from handfast.files.shown_build import BUILD, ShownBuild, shown
from handfast.files.typed_json import to_json
from handfast.model.run_log import LogLine

LOG = "run-log.jsonl"
PLAYED = ("start", "done", "width", "contact", "insertion", "screw", "wrench", "failure", "recovery")
News = dict[str, Any]


class Follower:
    """Looks at the files each time it is asked; what is new since then is told: lines of a run, how far a
    trial is, and now and then one of its builds."""

    def __init__(self, folder: Path) -> None:
        self._log, self._going = folder / RECORDS_FOLDER / LOG, folder / RECORDS_FOLDER / GOING
        self._build = folder / RECORDS_FOLDER / BUILD
        self._seen, self._told, self._trial = _stamp(self._log), 0, ""
        self._shown = _stamp(self._build)

    def news(self) -> list[News]:
        """Lines of a run that came since, and how far a trial is."""
        return [*self._run(), *self._trials(), *self._builds()]

    def _run(self) -> list[News]:
        stamp = _stamp(self._log)
        if stamp == self._seen or stamp is None:
            return []
        self._seen = stamp
        try:
            read = read_run_log(self._log)
        except RecordError:  # it has only begun
            return []
        lines = read.log.lines
        if len(lines) < self._told:  # another run
            self._told = 0
        found = [going(line) for line in lines[self._told :]]
        self._told = len(lines)
        if not read.damage:
            found.append(ended(read.log.ended, lines[-1].time_s if lines else 0.0, read.log.reason))
            self._told = 0
        return found

    def _trials(self) -> list[News]:
        try:
            text = self._going.read_text(encoding="utf-8")
            told = json.loads(text)
            news = {"kind": "trial", "done": int(told["done"]), "of": int(told["of"])}
        except (OSError, ValueError, KeyError, TypeError):
            text, news = "", {"kind": "trial", "done": 0, "of": 0}
        if text == self._trial:
            return []
        self._trial = text
        return [news]

    def _builds(self) -> list[News]:
        stamp = _stamp(self._build)
        if stamp == self._shown or stamp is None:
            return []
        self._shown = stamp
        found = shown(self._build)
        return [] if found is None else [build(found)]


def build(found: ShownBuild) -> News:
    """A whole build of a trial, to be played."""
    lines = [to_json(line, LogLine) for line in found.log.lines if line.event in PLAYED]
    return {"kind": "build", "number": found.number, "lines": lines, "reason": found.log.reason}


def going(line: LogLine) -> News:
    """A line of a run that goes on."""
    text = f"{line.element}: {line.event}{f' ({line.cause})' if line.cause else ''}"
    if line.event in ("held", "halt"):
        text = f"{line.element}: {line.event}, {line.text}"
    return {
        "kind": "run",
        "state": "going",
        "time": line.time_s,
        "text": text,
        "line": to_json(line, LogLine),
    }


def ended(how: str, time_s: float, reason: str) -> News:
    """The end of a run."""
    said = reason or f"{how}, {time_s:.2f} s by the cell's own clock"
    return {"kind": "run", "state": how, "time": time_s, "text": said, "line": None}


def _stamp(path: Path) -> tuple[int, int] | None:
    try:
        seen = path.stat()
    except OSError:
        return None
    return seen.st_mtime_ns, seen.st_size
