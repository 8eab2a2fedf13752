"""The command line: its commands in the order of the work."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable

import typer

from handfast.cli.to_begin import check, explain, features, layout, new, schema
from handfast.cli.to_change import compare, keep, restore, update
from handfast.cli.to_plan import plan, show, verify, why
from handfast.cli.to_run import commission, learn, replay, run, serve_cell, undo
from handfast.cli.to_show import export, page, report
from handfast.cli.to_try import budget, trial, what_if

VERBS = (
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
)


def made_of(verbs: Iterable[Callable[..., None]]) -> typer.Typer:
    """The program with these commands."""
    program = typer.Typer(
        name="handfast",
        help="Plans, proves, budgets and tries two-arm, jig-free assembly of small mechanical products.\n\n"
        "Exit codes: 0 yes, 1 the answer is no, 2 the input cannot be used.",
        no_args_is_help=True,
        add_completion=False,
        pretty_exceptions_enable=False,
        rich_markup_mode=None,
    )
    program.callback()(_nothing)  # so that a single command is still asked for by its name
    for verb in verbs:
        program.command()(verb)
    return program


def _nothing() -> None:
    pass


app = made_of(VERBS)


def start() -> None:
    """Run the command line. Reading the options of all commands takes longer than of the one that is asked
    for, so they are read only where it is none of them."""
    named = [verb for verb in VERBS if sys.argv[1:2] == [verb.__name__.replace("_", "-")]]
    made_of(named or VERBS)()
