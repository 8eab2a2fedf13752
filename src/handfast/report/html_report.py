"""The report as one HTML file: all is in it, the moving cell too; it opens from disk and fetches nothing."""

from __future__ import annotations

import base64
import hashlib
from html import escape
from importlib.resources import files

from handfast.page.built_page import built
from handfast.page.cautions import CAUTIONS
from handfast.page.chart_section import chart_section, summary
from handfast.page.html_table import table
from handfast.page.ledger_section import ledger_section
from handfast.page.make_sheet import sheet_json
from handfast.page.proof_section import proof_section
from handfast.page.sheet import Sheet
from handfast.page.title_block import title_block
from handfast.page.trial_section import trial_section
from handfast.page.workplace import close_ups
from handfast.report.content import Block, Picture, ReportInput, Section, Table, Words
from handfast.report.contents import after_the_ledger, before_the_chart
from handfast.report.quantities import unbroken


def html_report(given: ReportInput, sheet: Sheet, geometry: bytes) -> str:
    """The file's text. sheet, geometry: as the live page is sent them. Raises ArmError or MeshError if the
    cell can no longer be read from its folder."""
    script = built("page.js")
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    policy = (
        f"default-src 'none'; img-src data: blob:; style-src 'unsafe-inline'; script-src 'sha256-{digest}'"
    )
    own = files("handfast.report").joinpath("report.css").read_text(encoding="utf-8")
    sheet_css = files("handfast.page").joinpath("sheet.css").read_text(encoding="utf-8")
    style = "\n".join([built("colours.css"), built("cell.css"), sheet_css, own])
    name = escape(given.page.chart.body.project)
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">'
        f'<title>{name}: report</title><link rel="icon" href="data:,"><style>{style}</style></head>'
        f"<body><main>{''.join(_sections(given))}</main>"
        f'<script type="application/json" id="sheet-data">{_safe(sheet_json(sheet))}</script>'
        f'<script type="text/plain" id="geometry-data">{base64.b64encode(geometry).decode()}</script>'
        f"<script>{script}</script></body></html>\n"
    )


def _safe(json: str) -> str:
    """So that no text of a record can end the script element that holds it."""
    return json.replace("<", "\\u003c")


def _sections(given: ReportInput) -> list[str]:
    page = given.page
    before, after = before_the_chart(given), after_the_ledger(given)
    drawn = [
        ("workplace", "Workplace", _workplace(given)),
        ("chart", "Two-hand chart", chart_section(page)),
        ("ledger", "Fit ledger", ledger_section(page.ledger) if page.ledger else ""),
        ("trials", "Trials", trial_section(page.trials, page.reliability) if page.trials else ""),
        ("proof", "Proof", proof_section(page.proof) if page.proof else ""),
    ]
    all_ = [*((s.anchor, s.title, section(s)) for s in before), *drawn,
            *((s.anchor, s.title, section(s)) for s in after)]  # fmt: skip
    links = "".join(f'<li><a href="#{a}">{escape(t)}</a></li>' for a, t, text in all_ if text)
    cautions = "".join(f"<li>{escape(c)}</li>" for c in CAUTIONS)
    return [
        title_block(page),
        f'<section id="cautions"><h2>Cautions</h2><ul>{cautions}</ul></section>',
        f'<nav aria-label="Contents"><ul>{links}</ul></nav>',
        *(text for _, _, text in all_),
    ]


def _workplace(given: ReportInput) -> str:
    chart = given.page.chart.body
    return (
        '<section id="workplace"><h2>Workplace</h2>'
        "<p>The cell moves: play, step by element, drag the time, click a line of the chart. Drag turns the "
        'picture.</p><div id="cell-view"></div>'
        f'<div class="row">{close_ups(given.page.project, chart)}</div>{summary(chart)}</section>'
    )


def section(made: Section) -> str:
    """A <section>."""
    body = "".join(_block(b) for b in made.blocks)
    return f'<section id="{made.anchor}"><h2>{escape(made.title)}</h2>{body}</section>'


def _block(block: Block) -> str:
    if isinstance(block, Words):
        kind = "" if block.kind == "plain" else f' class="{block.kind}"'
        return f"<p{kind}>{escape(unbroken(block.text))}</p>"
    if isinstance(block, Table):
        return table(f"report {block.kind}", list(block.head), [[unbroken(c) for c in r] for r in block.rows])
    return _figure(block)


def _figure(picture: Picture) -> str:
    address = "data:image/png;base64," + base64.b64encode(picture.png).decode("ascii")
    labels = "".join(f'<text x="{x:.0f}" y="{y:.0f}">{escape(text)}</text>' for text, x, y in picture.labels)
    said = f'role="img" aria-label="{escape(picture.caption)}"'
    return (
        f'<figure class="holder"><svg viewBox="0 0 {picture.width} {picture.height}" {said}>'
        f'<image href="{address}" width="{picture.width}" height="{picture.height}"/>{labels}</svg>'
        f"<figcaption>{escape(picture.caption)}</figcaption></figure>"
    )
