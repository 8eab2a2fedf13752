"""Tables of text, escaped."""

from __future__ import annotations

import re
from html import escape

# A quantity or a range of them, with or without a unit.
_NUMBER = re.compile(
    r"(?:(?:over|under) )?[-+]?[\d.]+(?: (?:to|of) (?:over )?[-+]?[\d.]+)?(?: (?:%|µm|mm|s))?"
)


def table(kind: str, head: list[str], rows: list[list[str]], foot: list[str] | None = None) -> str:
    """A <table>; the first cell of each row is its heading. Cells that look like numbers are set right."""
    top = "".join(f'<th scope="col">{escape(h)}</th>' for h in head)
    body = "".join(_row(row) for row in rows)
    end = f"<tfoot>{_row(foot)}</tfoot>" if foot else ""
    return (
        f'<div class="scroll"><table class="{kind}"><thead><tr>{top}</tr></thead>'
        f"<tbody>{body}</tbody>{end}</table></div>"
    )


def _row(cells: list[str]) -> str:
    first = f'<th scope="row">{escape(cells[0])}</th>'
    return f"<tr>{first}{''.join(_cell(c) for c in cells[1:])}</tr>"


def _cell(text: str) -> str:
    kind = ' class="number"' if _NUMBER.fullmatch(text) else ""
    return f"<td{kind}>{escape(text)}</td>"
