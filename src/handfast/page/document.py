"""The page: one self-contained HTML file, laid out as the process engineer's own sheet."""

from __future__ import annotations

from html import escape
from importlib.resources import files

from handfast.page.cautions import CAUTIONS
from handfast.page.chart_section import chart_section, summary
from handfast.page.html_table import table
from handfast.page.ledger_section import ledger_section
from handfast.page.page_input import PageInput
from handfast.page.proof_section import proof_section
from handfast.page.title_block import title_block
from handfast.page.trial_section import trial_section
from handfast.page.workplace import Shot, close_ups, overview, shots

# Nothing is fetched from elsewhere and nothing runs, and the browser is told so.
POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"


def document(page: PageInput) -> str:
    """The whole page. Raises ArmError or MeshError if the cell can no longer be read from its folder."""
    style = files("handfast.page").joinpath("sheet.css").read_text(encoding="utf-8")
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">'
        f"<title>{escape(page.chart.body.project)}: two-hand chart</title>"
        f"<style>{style}</style></head>"
        f"<body><main>{''.join(_sections(page))}</main></body></html>\n"
    )


def _sections(page: PageInput) -> list[str]:
    return [
        title_block(page),
        _workplace(page),
        chart_section(page),
        ledger_section(page.ledger) if page.ledger else "",
        trial_section(page.trials, page.reliability) if page.trials else "",
        proof_section(page.proof) if page.proof else "",
        '<section id="cautions"><h2>Cautions</h2><ul>'
        + "".join(f"<li>{escape(c)}</li>" for c in CAUTIONS)
        + "</ul></section>",
        _made_from(page),
    ]


def _workplace(page: PageInput) -> str:
    chart = page.chart.body
    picture = overview(page.project, chart, _first_home(page))
    return (
        f'<section id="workplace"><h2>Workplace</h2><div class="beside">{picture}{summary(chart)}</div>'
        f'<div class="row">{close_ups(page.project, chart)}</div></section>'
    )


def _first_home(page: PageInput) -> Shot | None:
    """The first mate that goes home: both hands are at work by then."""
    return next((s for s in shots(page.chart.body) if s.element.kind == "assemble"), None)


def _made_from(page: PageInput) -> str:
    rows = [[f.path, f.sha256] for f in page.project.inputs] + [[s.kind, s.sha256] for s in page.saved]
    words = f"Handfast {page.chart.tool_version}, seed {page.chart.seed}. Equal inputs, equal hashes."
    return (
        f'<section id="made-from"><h2>Made from</h2><p>{escape(words)}</p>'
        f"{table('hashes', ['file or record', 'sha256'], rows)}</section>"
    )
