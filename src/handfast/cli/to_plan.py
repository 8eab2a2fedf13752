"""Commands that plan, tell why, and prove.

What one does stands in do_VERB.py and loads with it.
"""

from __future__ import annotations

from typing import Annotated

import typer

from handfast.cli.options import Folder, Json, Seed, end


def plan(
    project: Folder,
    target: Annotated[
        str | None,
        typer.Option(
            help="Add touches until every mate goes in with this chance, such as 99.5%.", metavar="CHANCE"
        ),
    ] = None,
    fresh: Annotated[
        bool,
        typer.Option(
            "--fresh",
            help="From nothing: take over nothing of the chart before, read nothing that was kept on disk.",
        ),
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
        typer.Option(help="One sub-assembly alone, planned and proved beside the chart.", metavar="NAME"),
    ] = None,
    prove: Annotated[
        bool, typer.Option("--prove", help="Check every motion of the chart again at once, as verify does.")
    ] = False,
    seed: Seed = 0,
    json: Json = False,
) -> None:
    """Plan who does what when: a two-hand chart, or the reasons why there is none."""
    from handfast.geometry.kept import worked_anew

    _must_agree(target, only, prove=prove, optimise=optimise, work=work)
    with worked_anew(fresh):
        if only is not None:
            from handfast.cli.do_plan_only import do_plan_only

            end(lambda: do_plan_only(project, only, seed, json, together))
        if target is None:
            from handfast.cli.do_plan import do_plan

            end(lambda: do_plan(project, seed, json, together, work, optimise, fresh, prove))
        from handfast.cli.do_settle import do_settle

        end(lambda: do_settle(project, target, seed, json, together, work, fresh))


def _must_agree(
    target: str | None, only: str | None, *, prove: bool, optimise: str | None, work: int
) -> None:
    """Raises BadParameter for options that do not go together."""
    if target is not None and (optimise is not None or only is not None):
        raise typer.BadParameter("not with --target: it takes --together and --optimise-work")
    if only is not None and (optimise is not None or work):
        raise typer.BadParameter("not with --only: a sub-assembly is planned as it is found first")
    if prove and (target is not None or only is not None):
        raise typer.BadParameter("--prove is not for --target and --only: `handfast verify` checks the chart")


def why(project: Folder, mate: Annotated[str, typer.Option(help="Which mate.")], json: Json = False) -> None:
    """Tell why a mate is done by these hands and this route, or why it cannot be done."""
    from handfast.cli.do_why import do_why

    end(lambda: do_why(project, mate, json))


def verify(project: Folder, json: Json = False) -> None:
    """Check every motion of the saved chart again, by independent code."""
    from handfast.cli.do_verify import do_verify

    end(lambda: do_verify(project, json))


def show(project: Folder, json: Json = False) -> None:
    """Print the two-hand chart in the terminal."""
    from handfast.cli.do_show import do_show

    end(lambda: do_show(project, json))
