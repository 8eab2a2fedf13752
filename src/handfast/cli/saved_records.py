"""Where the verbs leave their records in the project folder, and how they find those of other verbs."""

from __future__ import annotations

from pathlib import Path
from typing import Any, TypeVar

from handfast.cli.exit_codes import UnusableError
from handfast.files.errors import RecordError
from handfast.files.record_json import RECORDS_FOLDER, load, save
from handfast.model.chart import Chart
from handfast.model.project import Project
from handfast.model.record import Record

B = TypeVar("B")

FILES = (
    "chart",
    "chart-basis",
    "no-plan",
    "proof",
    "ledger",
    "trial-touched",
    "trial-untouched",
    "trial-scaled-touched",
    "trial-scaled-untouched",
    "reliability-touched",
    "reliability-untouched",
    "reliability-scaled-touched",
    "reliability-scaled-untouched",
    "run-log",
    "source-proposals",
)
MADE_BY = {"chart": "plan", "ledger": "budget", "proof": "verify"}


def record_path(folder: str, name: str) -> Path:
    """Where a record of that name lies."""
    return Path(folder) / RECORDS_FOLDER / f"{name}.json"


def keep(folder: str, name: str, record: Record[Any], run_info: dict[str, Any]) -> tuple[str, str]:
    """Save a record; its sha256, and a line that says so. Raises UnusableError if it cannot be written."""
    path = record_path(folder, name)
    try:
        digest = save(record, path, run_info)
    except OSError as error:
        raise UnusableError(f"{path}: cannot be written: {error.strerror}") from error
    return digest, f"wrote {path}  sha256 {digest[:12]}"


def need(folder: str, name: str, body: type[B]) -> Record[B]:
    """A record that must be there. Raises UnusableError, which says what makes it."""
    path = record_path(folder, name)
    if not path.exists():
        fix = f"; run `handfast {MADE_BY[name]} {folder}` first" if name in MADE_BY else ""
        raise UnusableError(f"{path}: expected a {name}, there is none{fix}")
    return load(path, body)


def maybe(folder: str, name: str, body: type[B]) -> Record[B] | None:
    """A record if it is there. Raises RecordError if it is damaged."""
    return load(record_path(folder, name), body) if record_path(folder, name).exists() else None


def must_be_of(project: Project, chart: Record[Chart], folder: str) -> None:
    """Raises UnusableError if the project's files have changed since the chart was made."""
    from handfast.workflow.inputs import changed_files

    changed = changed_files(project, chart)
    if changed:
        raise UnusableError(
            f"{record_path(folder, 'chart')}: expected a chart of the files as they are now, found changes "
            f"since in: {', '.join(changed)}; run `handfast plan {folder}` again"
        )


__all__ = ["FILES", "RecordError", "keep", "maybe", "must_be_of", "need", "record_path"]
