"""Findings as a person reads them: place first, so that editors and terminals can jump there."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from handfast.model.finding import Finding


def finding_lines(finding: Finding) -> list[str]:
    """file:line:column, then what was expected, found, and how to mend it."""
    place = ":".join(str(p) for p in (finding.file, finding.line, finding.column) if p)
    lines = [f"{place}: {finding.severity}: {finding.where} [{finding.rule}]"]
    lines += [f"    expected {finding.expected}", f"    found    {finding.found}"]
    return [*lines, f"    fix      {finding.fix}"] if finding.fix else lines


def all_lines(findings: tuple[Finding, ...]) -> list[str]:
    """All findings, and how many there are of which kind."""
    lines = [line for f in findings for line in finding_lines(f)]
    kinds = ("error", "warning", "assumption")
    counts = [(sum(1 for f in findings if f.severity == kind), kind) for kind in kinds]
    total = ", ".join(f"{n} {kind}{'s' if n != 1 else ''}" for n, kind in counts if n)
    return (
        [*lines, f"{total}. `handfast explain RULE` tells more about a rule in brackets."] if findings else []
    )


def as_json(findings: tuple[Finding, ...]) -> list[dict[str, Any]]:
    """The same as JSON objects."""
    return [asdict(f) for f in findings]
