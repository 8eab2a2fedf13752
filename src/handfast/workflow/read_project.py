"""Project folder -> reading -> checked project."""

from __future__ import annotations

from pathlib import Path

from handfast.checking.check import check_reading
from handfast.checking.checked_project import CheckedProject
from handfast.files.project_reader import Reading, read_folder
from handfast.model.finding import Finding


class UnusableProjectError(ValueError):
    """The project breaks a rule. findings: all of them, in reading order."""

    def __init__(self, findings: tuple[Finding, ...]) -> None:
        first = next((f for f in findings if f.severity == "error"), findings[0])
        place = f"{first.file}:{first.line}:{first.column}"
        super().__init__(
            f"{len(findings)} findings; the first: {place}: {first.where}: expected {first.expected}, "
            f"found {first.found}"
        )
        self.findings = findings


def load(folder: str | Path) -> Reading:
    """What the files of a folder say, with the place of every value. Nothing is raised or executed."""
    return read_folder(folder)


def check(reading: Reading) -> CheckedProject:
    """The certificate that planners ask for. Raises UnusableProjectError with everything that is wrong."""
    verdict = check_reading(reading)
    if isinstance(verdict, CheckedProject):
        return verdict
    raise UnusableProjectError(verdict)
