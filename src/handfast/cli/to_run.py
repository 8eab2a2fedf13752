"""Commands that run a cell and learn from it.

What one does stands in do_VERB.py and loads with it.
"""

from __future__ import annotations

from typing import Annotated

import typer

from handfast.cli.options import CellName, Folder, Json, Seed, end


def run(
    project: Folder,
    cell: Annotated[
        str, typer.Option(help="simulated, or tcp://HOST:PORT (docs/cell-protocol.md).")
    ] = "simulated",
    log: Annotated[
        str | None,
        typer.Option(metavar="FILE", help="Where to write the log as it goes (docs/run-log.md)."),
    ] = None,
    start: Annotated[
        int | None,
        typer.Option(
            "--from", metavar="N", min=1, help="Go on with element N: what must be where, a way in."
        ),
    ] = None,
    looked: Annotated[
        bool, typer.Option("--looked", help="With --from: you looked at what the cell cannot see.")
    ] = False,
    seed: Seed = 0,
    json: Json = False,
) -> None:
    """Step the chart through a cell once, and log what happens.

    What moves is a machine: risk assessment by a competent person, ISO 10218 and local rules, reduced speed
    for first runs, guarded space, a working emergency stop.
    """
    if start is not None:
        from handfast.cli.do_resume import do_run_from

        end(lambda: do_run_from(project, start, cell, seed, json, log, looked))
    from handfast.cli.do_run import do_run

    end(lambda: do_run(project, cell, seed, json, log))


def undo(
    project: Folder,
    cell: CellName = "simulated",
    log: Annotated[str | None, typer.Option(metavar="LOG", help="Of the run that stopped.")] = None,
    seed: Seed = 0,
    json: Json = False,
) -> None:
    """Lead a hand back out of the element at which a run stopped, to where it stands clear.

    What moves is a machine: look first, and see the caution of `run`.
    """
    from handfast.cli.do_resume import do_undo

    end(lambda: do_undo(project, cell, seed, log, json))


def replay(
    log: Annotated[str, typer.Argument(metavar="LOG", help="A log that `run` wrote.")], json: Json = False
) -> None:
    """Tell a run from its log, up to where the log breaks off."""
    from handfast.cli.do_replay import do_replay

    end(lambda: do_replay(log, json))


def serve_cell(
    project: Folder,
    port: Annotated[int, typer.Option(min=0, max=65535, help="Of 127.0.0.1; 0: any that is free.")] = 0,
    seed: Seed = 0,
) -> None:
    """Put the simulated cell behind a TCP port, until it is interrupted (docs/cell-protocol.md)."""
    from handfast.cli.do_serve_cell import do_serve_cell

    end(lambda: do_serve_cell(project, port, seed))


def commission(
    project: Folder,
    cell: CellName = "simulated",
    only: Annotated[
        list[str] | None,
        typer.Option(
            metavar="ROUTINE",
            help="One routine alone: artefact (both arms touch one ball), runout (bits touch it, turned), "
            "jaws, touches, looks or forces (while the chart is run). May be given again.",
        ),
    ] = None,
    stands: Annotated[
        str, typer.Option(metavar="A,B", help="Only these stands of the artefact: to go on after a stop.")
    ] = "",
    log: Annotated[
        str | None, typer.Option(metavar="FILE", help="Where to write the log as it goes.")
    ] = None,
    seed: Seed = 0,
    json: Json = False,
) -> None:
    """Measure what errors.yaml declares: arms against each other, jaws, touches, cameras, force sensors
    (docs/commissioning.md).

    What moves is a machine: see the caution of `run`. Whoever sets something down in the cell is told what to
    do, and nothing moves before they say that it is done.
    """
    from handfast.cli.do_commission import do_commission

    end(lambda: do_commission(project, cell, seed, log, json, only or (), stands))


def learn(
    project: Folder,
    logs: Annotated[
        list[str],
        typer.Argument(metavar="LOG...", help="Logs of runs of the saved chart, and of `commission`."),
    ],
    accept: Annotated[
        bool, typer.Option("--accept", help="Write what is proposed into errors.yaml and cell.yaml.")
    ] = False,
    json: Json = False,
) -> None:
    """Compare logs with the declared errors: what is refuted, what is proposed instead, what cannot be
    told."""
    from handfast.cli.do_learn import do_learn

    end(lambda: do_learn(project, logs, accept, json))
