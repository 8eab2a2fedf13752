"""One build of a trial that goes on, in a file beside the records, for whoever else looks at the folder."""

from __future__ import annotations

import json
import time
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from handfast.files.errors import RecordError
from handfast.files.typed_json import from_json, to_json
from handfast.model.run_log import RunLog

BUILD = ".build.json"
EVERY = 2.0  # so seldom is it replaced, that writing it costs nothing and it can be looked at [s]


@dataclass(frozen=True, slots=True)
class ShownBuild:
    """number: of the build in its trial, from 0."""

    number: int
    log: RunLog


def show(path: Path, number: int, log: RunLog) -> None:
    """Put it there unless another one has been there for less than EVERY. One that cannot be written is no
    reason to stop."""
    with suppress(OSError):
        if path.exists() and time.time() - path.stat().st_mtime < EVERY:
            return
        path.parent.mkdir(parents=True, exist_ok=True)
        beside = path.with_suffix(f".{number}.part")
        beside.write_text(json.dumps(to_json(ShownBuild(number, log), ShownBuild)), encoding="utf-8")
        beside.replace(path)


def shown(path: Path) -> ShownBuild | None:
    """The build that is shown there, None if there is none or it cannot be read."""
    try:
        found: ShownBuild = from_json(json.loads(path.read_text(encoding="utf-8")), ShownBuild)
    except (OSError, ValueError, RecordError):
        return None
    return found
