"""The head of the sheet: what it charts, and the figures one looks for first."""

from __future__ import annotations

from html import escape

from handfast.page.ledger_section import chance
from handfast.page.page_input import PageInput
from handfast.page.wording import seconds, short_hash


def title_block(page: PageInput) -> str:
    """A <header> with boxes, as a process chart's printed form has them."""
    cells = "".join(
        f"<div><dt>{escape(name)}</dt><dd>{escape(value)}</dd></div>" for name, value in boxes(page)
    )
    name = escape(page.chart.body.project)
    return (
        f'<header><div class="name"><p>Two-hand process chart</p><h1>{name}</h1></div>'
        f"<dl>{cells}</dl></header>"
    )


def boxes(page: PageInput) -> list[tuple[str, str]]:
    """What stands in the boxes: name and value."""
    chart = page.chart.body
    return [
        ("Hands", " and ".join(chart.hands)),
        ("Elements", str(len(chart.elements))),
        ("Mates planned", f"{len(chart.mates)} of {max(len(page.project.product.mates), len(chart.mates))}"),
        ("Cycle", f"{seconds(chart.makespan_s)} s"),
        ("Lower bound", f"{seconds(chart.lower_bound_s)} s"),
        ("Proof", _proof(page)),
        ("Least clearance", _clearance(page)),
        ("Goes in, whole build", chance(page.ledger.build_yield) if page.ledger else "not budgeted"),
        ("Seed", str(page.chart.seed)),
        ("Chart", short_hash(page.chart_sha256)),
    ]


def _proof(page: PageInput) -> str:
    if page.proof is None:
        return "not verified"
    return "holds" if page.proof.holds else f"fails: {len(page.proof.violations)} found"


def _clearance(page: PageInput) -> str:
    return f"{1e3 * page.proof.smallest_clearance:.1f} mm" if page.proof else "not verified"
