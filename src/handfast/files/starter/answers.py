"""Answers read from a file or one at a time; what is unknown is assumed, and remembered as assumed."""

from __future__ import annotations

from collections.abc import Mapping as Given
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from handfast.files.position import Position
from handfast.files.reader import BROKEN, Reader
from handfast.files.report import Report
from handfast.files.starter.questions import ANSWERS, QUESTIONS
from handfast.files.yaml_tree import Entry, Mapping, Scalar, read_text, read_tree
from handfast.model.finding import Finding

UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Answers:
    """values: by key, in SI; None where the project is to say `unknown`. assumed: keys that nobody knew."""

    values: Given[str, Any]
    assumed: tuple[str, ...]


def read_answers(path: Path) -> Answers | tuple[Finding, ...]:
    """From a YAML file; a key that is left out is unknown. Nothing is raised."""
    report = Report()
    tree = read_tree(path, path.name, report)
    return tuple(report.findings) if tree is None else _answers(tree, path.name, report)


def parse_answers(written: Given[str, str]) -> Answers | tuple[Finding, ...]:
    """From answers as they were typed. Nothing is raised."""
    report = Report()
    text = "\n".join(f"{key}: {value.strip() or UNKNOWN}" for key, value in written.items()) or "{}"
    tree = read_text(text, "answers", report)
    return tuple(report.findings) if tree is None else _answers(tree, "answers", report)


def _answers(tree: Entry, shown: str, report: Report) -> Answers | tuple[Finding, ...]:
    if isinstance(tree, Mapping):
        given = {k: v for k, v in tree.entries.items() if not _is_unknown(v)}
        tree = Mapping(given, {k: tree.keys[k] for k in given}, tree.place)
    values = Reader(Path(), report).read(ANSWERS, tree, ("answers",), Position(shown, 1, 1))
    if values is BROKEN or report.findings:
        return tuple(report.findings)
    assumed = tuple(q.key for q in QUESTIONS if q.key not in values)
    return Answers({**_assumptions(assumed), **values}, assumed)


def _is_unknown(entry: Entry) -> bool:
    return isinstance(entry, Scalar) and entry.text == UNKNOWN


def _assumptions(keys: tuple[str, ...]) -> dict[str, Any]:
    """The assumed values of those questions, read as if they had been answered."""
    written = {q.key: q.assumed for q in QUESTIONS if q.key in keys}
    text = "\n".join(f"{key}: {value}" for key, value in written.items() if value) or "{}"
    report = Report()
    tree = read_text(text, "assumptions", report)
    if tree is None:
        raise ValueError(f"assumptions that cannot be read: {text}")
    values = Reader(Path(), report).read(ANSWERS, tree, ("answers",), Position("assumptions", 1, 1))
    return {**dict.fromkeys((k for k, v in written.items() if not v)), **values}
