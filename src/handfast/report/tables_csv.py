"""The tables of a report as CSV files: as printed, with the unit in each cell or at its head (RFC 4180)."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

from handfast.page.chart_section import elements_table
from handfast.report.content import Block, ReportInput, Row, Table
from handfast.report.control_plan import control_plan
from handfast.report.failure_modes import failure_modes
from handfast.report.ledger_tables import contributor_table, ledger_tables, trial_tables
from handfast.report.loading_sheet import loading_rows
from handfast.report.parts_and_fits import parts_and_fits
from handfast.report.windows import windows


def tables(given: ReportInput) -> dict[str, str]:
    """File name -> text."""
    page = given.page
    head, rows = elements_table(page.chart.body)
    out = {"chart.csv": written(tuple(head), [tuple(r) for r in rows])}
    out["loading-sheet.csv"] = written(*loading_rows(page.project))
    blocks: list[Block] = [b for made in (parts_and_fits, windows, control_plan, failure_modes)
                           for b in made(given).blocks]  # fmt: skip
    if page.ledger is not None:
        blocks += [*ledger_tables(page.ledger), contributor_table(page.ledger)]
    blocks += trial_tables(page.trials)
    return out | {f"{b.kind}.csv": written(b.head, b.rows) for b in blocks if isinstance(b, Table)}


def written(head: Row, rows: Iterable[Row]) -> str:
    """One table."""
    out = io.StringIO()
    lines = csv.writer(out, lineterminator="\n")
    lines.writerow(head)
    lines.writerows(rows)
    return out.getvalue()
