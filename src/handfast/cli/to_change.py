"""Commands that follow changes.

What one does stands in do_VERB.py and loads with it.
"""

from __future__ import annotations

from typing import Annotated

import typer

from handfast.cli.options import Folder, Json, end


def update(
    project: Folder,
    source: Annotated[str, typer.Option("--from", metavar="STEP", help="The revised assembly.")],
    seconds: Annotated[float, typer.Option(min=1, help="How long reading may take.")] = 300,
    largest: Annotated[float, typer.Option(min=0, help="Largest file, in MB.")] = 200,
    json: Json = False,
) -> None:
    """Bring a project up to a revised drawing: hand edits stay, conflicts are listed."""
    from handfast.cli.do_update import do_update
    from handfast.geometry.cad.read_cad import Limits

    limits = Limits(seconds=seconds, largest=round(1e6 * largest))
    end(lambda: do_update(project, source, limits, json))


def compare(
    first: Annotated[str, typer.Argument(metavar="A", help="A project, a kept chart's folder, or a chart.")],
    second: Annotated[str, typer.Argument(metavar="B", help="What to set beside it.")],
    json: Json = False,
) -> None:
    """Set two charts beside each other: what has to be checked again, cycle time, yield."""
    from handfast.cli.do_compare import do_compare

    end(lambda: do_compare(first, second, json))


def keep(
    project: Folder, name: Annotated[str, typer.Argument(metavar="NAME", help="Under which name.")]
) -> None:
    """Keep the chart, and what was made of it, under a name."""
    from handfast.cli.do_keep import do_keep

    end(lambda: do_keep(project, name))


def restore(
    project: Folder, name: Annotated[str, typer.Argument(metavar="NAME", help="The name it was kept under.")]
) -> None:
    """Put a kept chart back."""
    from handfast.cli.do_keep import do_restore

    end(lambda: do_restore(project, name))
