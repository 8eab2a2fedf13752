"""Writing to a person: answers on stdout, progress on stderr."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from rich.console import Console

JSON_VERSION = 1


def console() -> Console:
    """For answers. As wide as the terminal, 100 columns in a pipe; NO_COLOR is obeyed."""
    from rich.console import Console

    wide = sys.stdout.isatty()
    return Console(soft_wrap=True, highlight=False, width=None if wide else 100)


def say(line: str = "") -> None:
    """One line of an answer; long ones are the terminal's to wrap."""
    print(line)


def complain(line: str) -> None:
    """One line on stderr."""
    print(line, file=sys.stderr)


def say_json(verb: str, answer: dict[str, Any]) -> None:
    """One JSON object on stdout. version goes up when fields change their meaning or go."""
    whole = {"version": JSON_VERSION, "verb": verb, **answer}
    print(json.dumps(whole, ensure_ascii=False, indent=1, allow_nan=False))


@contextmanager
def progress(what: str, every: int = 1) -> Iterator[Callable[[str, int, int], None]]:
    """Shows (name, done, of) on stderr while it goes on, or now and then as a line."""
    if not sys.stderr.isatty():
        yield _plain(what, every)
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn(f"{what}: {{task.description}}"), BarColumn(), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("", total=None)
        yield lambda name, done, of: bar.update(task, description=name, completed=done, total=of)


def _plain(what: str, every: int) -> Callable[[str, int, int], None]:
    """A line for every so many; what is begun anew is not said twice in a row."""
    said = ""

    def tell(name: str, done: int, of: int) -> None:
        nonlocal said
        line = f"   {what}: {name} ({done + 1} of {of})"
        if (done + 1) % every == 0 and line != said:
            said = line
            print(line, file=sys.stderr)

    return tell
