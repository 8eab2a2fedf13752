"""The figures of a report as files: SVG to be set in documents, PNG to be looked at."""

from __future__ import annotations

import io

from matplotlib import rc_context
from matplotlib.figure import Figure

from handfast.page.page_input import PageInput
from handfast.report.figures import budget_figure, hand_utilisation_figure, reliability_figure


def figure_files(page: PageInput) -> dict[str, bytes]:
    """File name -> bytes; of a mate without a budget, or of trials that were not made, there is none."""
    drawn: dict[str, Figure] = {"hand-utilisation": hand_utilisation_figure(page.chart.body)}
    for row in page.ledger.rows if page.ledger else ():
        if row.contributors:
            drawn[f"budget-{row.mate}"] = budget_figure(row)
    if page.reliability:
        drawn["reliability"] = reliability_figure(page.reliability)
    return {
        f"{name}.{kind}": _saved(figure, kind) for name, figure in drawn.items() for kind in ("svg", "png")
    }


def _saved(figure: Figure, kind: str) -> bytes:
    out = io.BytesIO()
    stamp: dict[str, str | None] = {"Date": None} if kind == "svg" else {"Software": None}
    # Equal figures are equal files: no date, names inside the SVG from a fixed salt; letters stay letters.
    with rc_context({"svg.hashsalt": "handfast", "svg.fonttype": "none"}):
        figure.savefig(out, format=kind, dpi=160, metadata=stamp)
    return out.getvalue()
