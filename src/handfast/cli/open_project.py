"""A project folder, checked, or the program ends with its findings."""

from __future__ import annotations

from pathlib import Path

from handfast.checking.checked_project import CheckedProject
from handfast.cli.exit_codes import UnusableError
from handfast.cli.findings_text import all_lines
from handfast.workflow.read_project import UnusableProjectError, check, load


def open_project(folder: str) -> CheckedProject:
    """Raises UnusableError with every finding."""
    must_be_folder(folder)
    try:
        return check(load(folder))
    except UnusableProjectError as error:
        raise UnusableError(*all_lines(error.findings)) from error


def must_be_folder(folder: str) -> None:
    """Raises UnusableError unless there is such a folder."""
    if not Path(folder).is_dir():
        found = "a file" if Path(folder).exists() else "nothing of that name"
        raise UnusableError(f"{folder}: expected a project folder (with a project.yaml in it), found {found}")
