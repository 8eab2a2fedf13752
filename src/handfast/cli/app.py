"""The commands, their options and their help. What one does stands in do_VERB.py and loads with it."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Annotated

import typer

from handfast.cli.exit_codes import UNUSABLE, UnusableError

app = typer.Typer(
    name="handfast",
    help="Plans, proves, budgets and tries two-arm, jig-free assembly of small mechanical products.\n\n"
    "Exit codes: 0 yes, 1 the answer is no, 2 the input cannot be used.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

Folder = Annotated[str, typer.Argument(metavar="PROJECT", help="The project folder.")]
Json = Annotated[bool, typer.Option("--json", help="Answer as one JSON object.")]
Unit = Annotated[
    str | None, typer.Option(metavar="UNIT", help="Of a mesh: mm, cm, m or in. Taken as mm if nothing tells.")
]
Seed = Annotated[int, typer.Option("--seed", min=0, help="Of every random draw; equal seeds, equal records.")]
CellName = Annotated[str, typer.Option(help="simulated, or tcp://HOST:PORT (docs/cell-protocol.md).")]


@app.command()
def new(
    folder: Annotated[str, typer.Argument(metavar="NAME", help="The project folder to make.")],
    answers: Annotated[
        str | None, typer.Option(metavar="FILE", help="Take the answers from a YAML file instead of asking.")
    ] = None,
    source: Annotated[
        str | None,
        typer.Option("--from", metavar="FILE", help="Begin from a STEP assembly, or one part as a mesh."),
    ] = None,
    base: Annotated[
        str | None, typer.Option(help="With --from: the part that all is built on; else the largest.")
    ] = None,
    seconds: Annotated[float, typer.Option(min=1, help="With --from: how long reading may take.")] = 300,
    largest: Annotated[float, typer.Option(min=0, help="With --from: largest file, in MB.")] = 200,
    unit: Unit = None,
) -> None:
    """Begin a project: from a drawn assembly, or with about ten questions."""
    if source is not None:
        from handfast.cli.do_new_from_cad import do_new_from_cad
        from handfast.geometry.cad.read_cad import Limits

        limits = Limits(seconds=seconds, largest=round(1e6 * largest))
        _end(lambda: do_new_from_cad(folder, source, base, limits, unit))
        return
    from handfast.cli.do_new import do_new

    _end(lambda: do_new(folder, answers))


@app.command()
def features(
    source: Annotated[
        str,
        typer.Argument(metavar="FILE", help="A STEP file, or a part as STL, OBJ, PLY, 3MF or GLB."),
    ],
    part: Annotated[str | None, typer.Option(help="Only this part.")] = None,
    pictures: Annotated[
        str | None, typer.Option(metavar="DIR", help="Draw each part there as a PNG, faces coloured by kind.")
    ] = None,
    why: Annotated[bool, typer.Option("--why", help="Tell of each other face why it is no feature.")] = False,
    seconds: Annotated[float, typer.Option(min=1, help="How long reading may take.")] = 300,
    largest: Annotated[float, typer.Option(min=0, help="Largest file, in MB.")] = 200,
    unit: Unit = None,
    json: Json = False,
) -> None:
    """List the features of drawn parts: what was found, how sure, and why a face is none."""
    from handfast.cli.do_features import do_features
    from handfast.geometry.cad.read_cad import Limits

    limits = Limits(seconds=seconds, largest=round(1e6 * largest))
    _end(lambda: do_features(source, part, pictures, why, limits, json, unit))


@app.command()
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
    _end(lambda: do_update(project, source, limits, json))


@app.command()
def check(project: Folder, json: Json = False) -> None:
    """Find every mistake in the project files, with its place and the fix."""
    from handfast.cli.do_check import do_check

    _end(lambda: do_check(project, json))


@app.command()
def plan(
    project: Folder,
    target: Annotated[
        str | None,
        typer.Option(
            help="Add touches until every mate goes in with this chance, such as 99.5%.", metavar="CHANCE"
        ),
    ] = None,
    fresh: Annotated[
        bool, typer.Option("--fresh", help="Read no cache. (There is none yet: every plan is made anew.)")
    ] = False,
    together: Annotated[
        bool, typer.Option("--together", help="Both hands work at once where nothing forbids it.")
    ] = False,
    work: Annotated[
        int,
        typer.Option(
            "--optimise-work", min=0, help="Try so many other sequences for a shorter cycle.", metavar="N"
        ),
    ] = 0,
    optimise: Annotated[
        str | None,
        typer.Option(
            help="Look for shorter cycles for so long, such as 20s. Not repeatable.", metavar="TIME"
        ),
    ] = None,
    only: Annotated[
        str | None,
        typer.Option(help="One sub-assembly alone, planned and proven beside the chart.", metavar="NAME"),
    ] = None,
    seed: Seed = 0,
    json: Json = False,
) -> None:
    """Plan who does what when: a two-hand chart, or the reasons why there is none."""
    del fresh  # nothing is kept from one plan to the next
    from handfast.cli.do_plan import do_plan
    from handfast.cli.do_plan_only import do_plan_only
    from handfast.cli.do_settle import do_settle

    if target is not None and (optimise is not None or only is not None):
        raise typer.BadParameter("not with --target: it takes --together and --optimise-work")
    if only is not None:
        if optimise is not None or work:
            raise typer.BadParameter("not with --only: a sub-assembly is planned as it is found first")
        _end(lambda: do_plan_only(project, only, seed, json, together))
        return
    if target is None:
        _end(lambda: do_plan(project, seed, json, together, work, optimise))
        return
    _end(lambda: do_settle(project, target, seed, json, together, work))


@app.command()
def verify(project: Folder, json: Json = False) -> None:
    """Check every motion of the saved chart again, by independent code."""
    from handfast.cli.do_verify import do_verify

    _end(lambda: do_verify(project, json))


@app.command()
def budget(
    project: Folder,
    mate: Annotated[str | None, typer.Option(help="One mate in full: chain, causes, region.")] = None,
    jig: Annotated[bool, typer.Option("--jig", help="Also: is a jig worth it, mate by mate.")] = False,
    json: Json = False,
) -> None:
    """Add up the errors of each mate: allowed, expected, the chance that it goes in."""
    from handfast.cli.do_budget import do_budget

    _end(lambda: do_budget(project, mate, json, jig))


@app.command()
def what_if(
    project: Folder,
    changes: Annotated[
        list[str], typer.Option("--set", help="Such as camera.position=0.3mm or block.bore.chamfer=0.8mm.")
    ],
    json: Json = False,
) -> None:
    """Set two ledgers side by side: as things are, and as they would be."""
    from handfast.cli.do_what_if import do_what_if

    _end(lambda: do_what_if(project, changes, json))


@app.command()
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
    _end(lambda: do_trial(project, asked, json))


@app.command()
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

        _end(lambda: do_run_from(project, start, cell, seed, json, log, looked))
    from handfast.cli.do_run import do_run

    _end(lambda: do_run(project, cell, seed, json, log))


@app.command()
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

    _end(lambda: do_undo(project, cell, seed, log, json))


@app.command()
def commission(
    project: Folder,
    cell: CellName = "simulated",
    log: Annotated[
        str | None, typer.Option(metavar="FILE", help="Where to write the log as it goes.")
    ] = None,
    seed: Seed = 0,
    json: Json = False,
) -> None:
    """Build once and measure on the way: jaws, touches, cameras, force sensors, against what is declared.

    What moves is a machine: see the caution of `run`.
    """
    from handfast.cli.do_learn import do_commission

    _end(lambda: do_commission(project, cell, seed, log, json))


@app.command()
def learn(
    project: Folder,
    logs: Annotated[list[str], typer.Argument(metavar="LOG...", help="Logs of runs of the saved chart.")],
    accept: Annotated[
        bool, typer.Option("--accept", help="Write what is proposed into errors.yaml.")
    ] = False,
    json: Json = False,
) -> None:
    """Compare logs with the declared errors: what is refuted, what is proposed instead, what cannot be
    told."""
    from handfast.cli.do_learn import do_learn

    _end(lambda: do_learn(project, logs, accept, json))


@app.command()
def serve_cell(
    project: Folder,
    port: Annotated[int, typer.Option(min=0, max=65535, help="Of 127.0.0.1; 0: any that is free.")] = 0,
    seed: Seed = 0,
) -> None:
    """Put the simulated cell behind a TCP port, until it is interrupted (docs/cell-protocol.md)."""
    from handfast.cli.do_serve_cell import do_serve_cell

    _end(lambda: do_serve_cell(project, port, seed))


@app.command()
def replay(
    log: Annotated[str, typer.Argument(metavar="LOG", help="A log that `run` wrote.")], json: Json = False
) -> None:
    """Tell a run from its log, up to where the log breaks off."""
    from handfast.cli.do_replay import do_replay

    _end(lambda: do_replay(log, json))


@app.command()
def show(project: Folder, json: Json = False) -> None:
    """Print the two-hand chart in the terminal."""
    from handfast.cli.do_show import do_show

    _end(lambda: do_show(project, json))


@app.command()
def why(project: Folder, mate: Annotated[str, typer.Option(help="Which mate.")], json: Json = False) -> None:
    """Tell why a mate is done by these hands and this route, or why it cannot be done."""
    from handfast.cli.do_why import do_why

    _end(lambda: do_why(project, mate, json))


@app.command()
def layout(
    project: Folder,
    work: Annotated[int, typer.Option(min=0, help="How many layouts to plan the product in.")] = 20,
    keep: Annotated[
        list[str] | None, typer.Option("--keep", metavar="NAME", help="An arm or a holder that stays put.")
    ] = None,
    drawing: Annotated[
        str | None,
        typer.Option("--map", metavar="FILE", help="Draw what arms reach, from above (SVG)."),
    ] = None,
    accept: Annotated[bool, typer.Option("--accept", help="Write what is better into cell.yaml.")] = False,
    seed: Seed = 0,
    json: Json = False,
) -> None:
    """Tell what each arm reaches, look for places where arms and holders stand better, and compare one, two
    or three arms."""
    from handfast.cli.do_layout import do_layout

    _end(lambda: do_layout(project, work, keep or [], drawing, accept, seed, json))


@app.command()
def compare(
    first: Annotated[str, typer.Argument(metavar="A", help="A project, a kept chart's folder, or a chart.")],
    second: Annotated[str, typer.Argument(metavar="B", help="What to set beside it.")],
    json: Json = False,
) -> None:
    """Set two charts beside each other: what has to be checked again, cycle time, yield."""
    from handfast.cli.do_compare import do_compare

    _end(lambda: do_compare(first, second, json))


@app.command()
def keep(
    project: Folder, name: Annotated[str, typer.Argument(metavar="NAME", help="Under which name.")]
) -> None:
    """Keep the chart, and what was made of it, under a name."""
    from handfast.cli.do_keep import do_keep

    _end(lambda: do_keep(project, name))


@app.command()
def restore(
    project: Folder, name: Annotated[str, typer.Argument(metavar="NAME", help="The name it was kept under.")]
) -> None:
    """Put a kept chart back."""
    from handfast.cli.do_keep import do_restore

    _end(lambda: do_restore(project, name))


@app.command()
def page(
    project: Folder,
    out: Annotated[
        str | None, typer.Option(help="Write a still page to this file instead.", metavar="FILE")
    ] = None,
    host: Annotated[
        str | None, typer.Option(help="Let others in at this address; they need the token that is printed.")
    ] = None,
    port: Annotated[int, typer.Option(min=0, max=65535, help="0: a free one.")] = 0,
    browser: Annotated[bool, typer.Option(help="Open it in the browser.")] = True,
    seed: Seed = 0,
    json: Json = False,
) -> None:
    """Open the page: chart, cell and ledger, renewed when files are saved. Ctrl-C ends it."""
    from handfast.cli.do_page import do_live_page, do_page

    if out is not None:
        _end(lambda: do_page(project, out, json))
        return
    _end(lambda: do_live_page(project, host, port, seed, browser, json))


@app.command()
def report(
    project: Folder,
    out: Annotated[str, typer.Option(help="The folder to write them to.", metavar="DIR")] = "out",
    pdf: Annotated[bool, typer.Option(help="Write the PDF too; it needs the extra `report`.")] = True,
    json: Json = False,
) -> None:
    """Write the report: one HTML file that opens from disk, and a PDF."""
    from handfast.cli.do_report import do_report

    _end(lambda: do_report(project, out, pdf, json))


@app.command()
def export(
    project: Folder,
    out: Annotated[
        str | None, typer.Option(help="The folder to write them to; else out/NAME.", metavar="DIR")
    ] = None,
    figures: Annotated[bool, typer.Option(help="Draw figures too; they need the extra `report`.")] = True,
    json: Json = False,
) -> None:
    """Write joint paths (CSV, JSON), the moving cell (glTF), tables (CSV) and figures.

    Joint paths move machines: risk assessment by a competent person, ISO 10218 and local rules, reduced speed
    for first runs, guarded space, a working emergency stop.
    """
    from handfast.cli.do_report import do_export

    _end(lambda: do_export(project, out, figures, json))


@app.command()
def schema(
    out: Annotated[str, typer.Option(help="The folder to write them to.", metavar="DIR")] = "schema",
) -> None:
    """Write JSON Schemas of the project files, by which editors check and complete them."""
    from handfast.cli.do_schema import do_schema

    _end(lambda: do_schema(out))


@app.command()
def explain(rule: Annotated[str, typer.Argument(metavar="RULE", help="The name in brackets.")]) -> None:
    """Tell what a rule about project files asks for, and why."""
    from handfast.cli.do_check import do_explain

    _end(lambda: do_explain(rule))


def _end(verb: Callable[[], int]) -> None:
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


def start() -> None:
    """Run the command line."""
    app()
