"""What the commands share: options, and how they end."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Annotated, NoReturn

import typer

from handfast.cli.exit_codes import UNUSABLE, UnusableError

Folder = Annotated[str, typer.Argument(metavar="PROJECT", help="The project folder.")]
Json = Annotated[bool, typer.Option("--json", help="Answer as one JSON object.")]
Unit = Annotated[
    str | None, typer.Option(metavar="UNIT", help="Of a mesh: mm, cm, m or in. Taken as mm if nothing tells.")
]
Seed = Annotated[int, typer.Option("--seed", min=0, help="Of every random draw; equal seeds, equal records.")]
CellName = Annotated[str, typer.Option(help="simulated, or tcp://HOST:PORT (docs/cell-protocol.md).")]


def end(verb: Callable[[], int]) -> NoReturn:
    """Run a verb and leave with its exit code; what cannot be used is told, not traced."""
    try:
        code = verb()
    except UnusableError as error:
        for line in error.lines:
            print(line, file=sys.stderr)
        code = UNUSABLE
    except _refusals() as error:
        print(error, file=sys.stderr)
        code = UNUSABLE
    raise typer.Exit(code)


def _refusals() -> tuple[type[Exception], ...]:
    """Asked for only once something has been raised: naming them loads their layers."""
    from handfast.cli.refusals import REFUSALS

    return REFUSALS
