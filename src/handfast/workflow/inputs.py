"""What a record was made from: the project's files, and other records by their sha256."""

from __future__ import annotations

from typing import Any

from handfast.files.record_json import sha256
from handfast.model.project import InputFile, Project
from handfast.model.record import Record


def inputs_of(project: Project, *records: Record[Any]) -> tuple[InputFile, ...]:
    """The project's files, then each record under the name of its kind."""
    return (*project.inputs, *(InputFile(r.kind, sha256(r)) for r in records))


def changed_files(project: Project, record: Record[Any]) -> tuple[str, ...]:
    """Files of the project that are not as they were when the record was made, or that it did not know."""
    kinds = {f.path: f.sha256 for f in record.inputs}
    return tuple(f.path for f in project.inputs if kinds.get(f.path) != f.sha256)
