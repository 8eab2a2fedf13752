"""How far a long verb is, in a file beside the records, for whoever else looks at the folder."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from handfast.files.shown_build import BUILD

GOING = ".going.json"


@contextmanager
def going(folder: Path, verb: str) -> Iterator[Callable[[int, int], None]]:
    """Call it with (done, of). The file goes when the verb ends; one that cannot be written is no reason to
    stop."""
    path, build = folder / GOING, folder / BUILD

    def tell(done: int, of: int) -> None:
        with suppress(OSError):
            path.parent.mkdir(parents=True, exist_ok=True)
            beside = path.with_suffix(".part")
            beside.write_text(json.dumps({"verb": verb, "done": done, "of": of}), encoding="utf-8")
            beside.replace(path)

    try:
        yield tell
    finally:
        with suppress(OSError):
            path.unlink(missing_ok=True)
            build.unlink(missing_ok=True)
