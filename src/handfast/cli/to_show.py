"""Commands that show the process and hand it over.

What one does stands in do_VERB.py and loads with it.
"""

from __future__ import annotations

from typing import Annotated

import typer

from handfast.cli.options import Folder, Json, Seed, end


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
        end(lambda: do_page(project, out, json))
    end(lambda: do_live_page(project, host, port, seed, browser, json))


def report(
    project: Folder,
    out: Annotated[str, typer.Option(help="The folder to write them to.", metavar="DIR")] = "out",
    pdf: Annotated[bool, typer.Option(help="Write the PDF too; it needs the extra `report`.")] = True,
    json: Json = False,
) -> None:
    """Write the report: one HTML file that opens from disk, and a PDF."""
    from handfast.cli.do_report import do_report

    end(lambda: do_report(project, out, pdf, json))


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

    end(lambda: do_export(project, out, figures, json))
