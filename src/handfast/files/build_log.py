"""The builds of a trial as they are done, so that one that was stopped or killed goes on where it was.

JSON lines with length and checksum (log_lines): first what the builds are of, then one line a build. Each is
on the disk before the next begins.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from handfast.files.errors import RecordError
from handfast.files.log_lines import LineWriter, as_line, read_lines
from handfast.files.typed_json import from_json, to_json
from handfast.model.trial import Build


class BuildLog:
    """done: builds that were found; `add` writes one more. Raises OSError if the file cannot be written."""

    def __init__(self, path: Path, of: Mapping[str, Any]) -> None:
        self.done = builds_in(path, of)
        self._path = path
        path.parent.mkdir(parents=True, exist_ok=True)
        # Written anew beside it: what a cut line leaves behind would spoil all that follow it.
        fresh = path.with_suffix(".new")
        fresh.write_bytes(b"".join(as_line(line) for line in (of, *map(_line, self.done))))
        os.replace(fresh, path)
        self._writer = LineWriter(path, go_on=True)

    def add(self, build: Build) -> None:
        """One more build is done."""
        self._writer.write(_line(build), lasting=True)

    def close(self) -> None:
        """No more for now."""
        self._writer.close()

    def forget(self) -> None:
        """The trial is saved: nothing is left to go on with."""
        self.close()
        self._path.unlink(missing_ok=True)


def _line(build: Build) -> dict[str, Any]:
    return {"build": to_json(build, Build)}


def builds_in(path: Path, of: Mapping[str, Any]) -> tuple[Build, ...]:
    """The builds of a file, if they are of the same trial; up to the first line that is not whole."""
    try:
        lines = read_lines(path).lines
    except FileNotFoundError:
        return ()
    if not lines or lines[0] != dict(of):
        return ()
    try:
        return tuple(from_json(line.get("build"), Build) for line in lines[1:])
    except RecordError:
        return ()
