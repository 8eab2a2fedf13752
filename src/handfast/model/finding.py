"""A mistake or a doubt in the user's files, as data."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding. rule: a stable name that `handfast explain` describes; line, column: from 1, 0 where
    none applies."""

    rule: str
    severity: Literal["error", "warning", "assumption"]
    file: str
    line: int
    column: int
    where: str
    expected: str
    found: str
    fix: str = ""
