"""The command line: its commands in the order of the work."""

from __future__ import annotations

import typer

from handfast.cli.to_begin import check, explain, features, layout, new, schema
from handfast.cli.to_change import compare, keep, restore, update
from handfast.cli.to_plan import plan, show, verify, why
from handfast.cli.to_run import commission, learn, replay, run, serve_cell, undo
from handfast.cli.to_show import export, page, report
from handfast.cli.to_try import budget, trial, what_if

app = typer.Typer(
    name="handfast",
    help="Plans, proves, budgets and tries two-arm, jig-free assembly of small mechanical products.\n\n"
    "Exit codes: 0 yes, 1 the answer is no, 2 the input cannot be used.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
for verb in (
    new,
    features,
    check,
    explain,
    schema,
    layout,
    plan,
    why,
    verify,
    show,
    budget,
    what_if,
    trial,
    run,
    undo,
    replay,
    serve_cell,
    commission,
    learn,
    page,
    report,
    export,
    update,
    compare,
    keep,
    restore,
):
    app.command()(verb)


def start() -> None:
    """Run the command line."""
    app()
