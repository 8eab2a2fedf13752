"""Commands that add up errors and try the process in simulated builds.

What one does stands in do_VERB.py and loads with it.
"""

from __future__ import annotations

from typing import Annotated

import typer

from handfast.cli.options import Folder, Json, Seed, end


def budget(
    project: Folder,
    mate: Annotated[str | None, typer.Option(help="One mate in full: chain, causes, region.")] = None,
    jig: Annotated[bool, typer.Option("--jig", help="Also: is a jig worth it, mate by mate.")] = False,
    json: Json = False,
) -> None:
    """Add up the errors of each mate: allowed, expected, the chance that it goes in."""
    from handfast.cli.do_budget import do_budget

    end(lambda: do_budget(project, mate, json, jig))


def what_if(
    project: Folder,
    changes: Annotated[
        list[str], typer.Option("--set", help="Such as camera.position=0.3mm or block.bore.chamfer=0.8mm.")
    ],
    json: Json = False,
) -> None:
    """Set two ledgers side by side: as things are, and as they would be."""
    from handfast.cli.do_what_if import do_what_if

    end(lambda: do_what_if(project, changes, json))


def trial(
    project: Folder,
    builds: Annotated[int, typer.Option(min=1, help="How many builds to simulate.")] = 50,
    touches: Annotated[bool, typer.Option(help="Use the touches of the chart, or leave them out.")] = True,
    scale: Annotated[
        float, typer.Option(min=0.1, max=20.0, help="Errors so many times as large, in the ledger, too.")
    ] = 1.0,
    failures: Annotated[
        int,
        typer.Option(min=0, help="Errors larger and larger until each mate has failed that often (0: no)."),
    ] = 0,
    width: Annotated[
        float | None,
        typer.Option(min=0.1, max=100.0, help="End once each mate's interval is so many points wide."),
    ] = None,
    recover: Annotated[
        bool, typer.Option("--recover", help="Carry out the recoveries of the chart; first tries count.")
    ] = False,
    engine: Annotated[
        bool,
        typer.Option("--engine", help="Every insertion in the physics engine, not a sample of them: slow."),
    ] = False,
    processes: Annotated[int, typer.Option(min=0, max=64, help="Local processes (0: one a processor).")] = 0,
    cluster: Annotated[
        str | None, typer.Option(metavar="tcp://HOST:PORT", help="A Dask scheduler to build with.")
    ] = None,
    seed: Seed = 0,
    json: Json = False,
) -> None:
    """Simulate builds with drawn errors and real contact, beside what the ledger predicted.

    One that was stopped or killed goes on where it was when the same command is given again.
    """
    from handfast.cli.do_trial import Asked, do_trial

    share = None if width is None else width / 100
    asked = Asked(builds, touches, scale, recover, share, failures, processes, cluster, seed, engine)
    end(lambda: do_trial(project, asked, json))
