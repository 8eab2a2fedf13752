"""The sections of a report in their order. What the page draws too (chart, ledger, trials) stands between."""

from __future__ import annotations

from handfast.report.content import ReportInput, Section
from handfast.report.control_plan import control_plan
from handfast.report.failure_modes import failure_modes
from handfast.report.job import assumptions, job
from handfast.report.loading_sheet import loading_sheet
from handfast.report.made_from import made_from
from handfast.report.parts_and_fits import parts_and_fits
from handfast.report.windows import windows


def before_the_chart(given: ReportInput) -> tuple[Section, ...]:
    """The job, what it rests on, what fits into what."""
    return job(given), assumptions(given), parts_and_fits(given)


def after_the_ledger(given: ReportInput) -> tuple[Section, ...]:
    """What the people at the cell need, and what the report was made from."""
    return (
        loading_sheet(given), windows(given), control_plan(given), failure_modes(given), made_from(given),
    )  # fmt: skip
