"""A report of the hand-written chart with made-up records."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.page.example_records import (
    CHART_SHA256,
    example_ledger,
    example_proof,
    example_reliability,
    example_trial,
)
from tests.page.first_fit_chart import first_fit_chart

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.kinematics.chain import Chain, load_chain
from handfast.model.finding import Finding
from handfast.model.project import Project
from handfast.model.record import Record
from handfast.page import workplace
from handfast.page.page_input import PageInput, Saved
from handfast.report import loading_sheet
from handfast.report.content import ReportInput

FOLDER = Path(__file__).parents[2] / "projects" / "first-fit"


@pytest.fixture(scope="session", autouse=True)
def _small_pictures() -> Iterator[None]:
    """So that tests do not wait for pictures."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(workplace, "CLOSE_UP", (64, 48))
        patch.setattr(workplace, "OVERVIEW", (172, 112))
        patch.setattr(loading_sheet, "_PIXELS", (112, 72))
        yield


@pytest.fixture(scope="session")
def project() -> Project:
    checked = check_folder(FOLDER)
    assert isinstance(checked, CheckedProject)
    return checked.project


@pytest.fixture(scope="session")
def chains(project: Project) -> dict[str, Chain]:
    return {arm.name: load_chain(arm, project.folder) for arm in project.cell.arms}


@pytest.fixture(scope="session")
def given(project: Project) -> ReportInput:
    page = PageInput(
        project, Record("chart", 1, "0.1.0", (), 7, first_fit_chart()), CHART_SHA256, example_proof(),
        example_ledger(), (example_trial(True), example_trial(False)),
        (example_reliability(True), example_reliability(False)), (Saved("chart", CHART_SHA256),),
    )  # fmt: skip
    where, fix = "sources.<nest>", "measure it & write it"
    note = Finding("unknown-error", "assumption", "errors.yaml", 12, 5, where, "a sigma", "unknown", fix)
    return ReportInput(page, (note,))
