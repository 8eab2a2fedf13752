"""Where the verbs leave their records in the project folder, and how they find those of other verbs."""

from __future__ import annotations

from pathlib import Path
from typing import Any, TypeVar

from handfast.cli.exit_codes import UnusableError
from handfast.files.errors import RecordError
from handfast.files.record_json import RECORDS_FOLDER, load, save
from handfast.model.basis import Basis
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.model.no_plan import NoPlan
from handfast.model.project import Project
from handfast.model.proof import Proof
from handfast.model.record import Record
from handfast.model.reliability import Reliability
from handfast.model.run_log import RunLog
from handfast.model.source_proposal import SourceProposals
from handfast.model.trial import TrialReport

B = TypeVar("B")

FILES: dict[str, type[Any]] = {
    "chart": Chart,
    "chart-basis": Basis,
    "no-plan": NoPlan,
    "proof": Proof,
    "ledger": Ledger,
    "trial-touched": TrialReport,
    "trial-untouched": TrialReport,
    "trial-scaled-touched": TrialReport,
    "trial-scaled-untouched": TrialReport,
    "reliability-touched": Reliability,
    "reliability-untouched": Reliability,
    "reliability-scaled-touched": Reliability,
    "reliability-scaled-untouched": Reliability,
    "run-log": RunLog,
    "source-proposals": SourceProposals,
}
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
