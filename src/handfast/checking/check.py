"""From a project to a CheckedProject, or to everything that is wrong with it."""

from __future__ import annotations

from pathlib import Path

from handfast.checking.case import Case
from handfast.checking.checked_project import CheckedProject, certify
from handfast.checking.registry import RULES
from handfast.files.position import SourceMap
from handfast.files.project_reader import Reading, read_folder
from handfast.files.report import in_reading_order
from handfast.model.finding import Finding
from handfast.model.project import Project


def check(
    project: Project, findings: tuple[Finding, ...] = (), sources: SourceMap | None = None
) -> CheckedProject | tuple[Finding, ...]:
    """The certificate, or all findings.

    findings: those from reading the files; sources: where the values were written (left out: findings name
    the value without line and column).
    """
    return _verdict(Case(project, sources or SourceMap()), findings)


def check_folder(folder: str | Path) -> CheckedProject | tuple[Finding, ...]:
    """The certificate of the project in that folder, or all findings of reading it and of the rules."""
    return check_reading(read_folder(folder))


def check_reading(reading: Reading) -> CheckedProject | tuple[Finding, ...]:
    """The same for a folder that has been read."""
    if reading.project is None:
        return reading.findings
    return _verdict(Case(reading.project, reading.sources, reading.broken), reading.findings)


def _verdict(case: Case, before: tuple[Finding, ...]) -> CheckedProject | tuple[Finding, ...]:
    found = [f for rule in RULES if rule.examine is not None for f in rule.examine(case)]
    findings = in_reading_order([*before, *found])
    if any(f.severity == "error" for f in findings):
        return findings
    return certify(case.project, findings)
