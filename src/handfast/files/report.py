"""Collecting findings while files are read."""

from __future__ import annotations

from typing import Literal

from handfast.files.position import Path, Position
from handfast.model.finding import Finding

Severity = Literal["error", "warning", "assumption"]


class Report:
    """What one reading has found so far. Local to that reading; nothing stops at the first finding."""

    def __init__(self) -> None:
        self.findings: list[Finding] = []

    def error(
        self, rule: str, place: Position, where: Path, expected: str, found: str, fix: str = ""
    ) -> None:
        """Add a mistake."""
        self._add(rule, "error", place, where, expected, found, fix)

    def assume(self, rule: str, place: Position, where: Path, expected: str, found: str, fix: str) -> None:
        """Add an assumption made because the user does not know a value."""
        self._add(rule, "assumption", place, where, expected, found, fix)

    def _add(
        self, rule: str, severity: Severity, place: Position, where: Path, expected: str, found: str, fix: str
    ) -> None:
        shown = ".".join(where[1:]) or (where[0] if where else "")
        self.findings.append(
            Finding(rule, severity, place.file, place.line, place.column, shown, expected, found, fix)
        )


def in_reading_order(findings: list[Finding]) -> tuple[Finding, ...]:
    """By file, line and column, each only once: a value under an anchor is read once per use."""
    once = {
        (f.rule, f.file, f.line, f.column, "" if f.line else f.where, f.expected, f.found): f
        for f in reversed(findings)
    }
    return tuple(sorted(once.values(), key=lambda f: (f.file, f.line, f.column, f.rule, f.found)))
