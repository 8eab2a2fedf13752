"""Why a budget cannot be made.

BudgetError (ValueError)
  SourceError   an error source that cannot be used
  ChainError    a chart from which no error chain can be derived
"""

from __future__ import annotations


class BudgetError(ValueError):
    """place: where it is wrong; expected, found; fix: what to do about it."""

    def __init__(self, place: str, expected: str, found: str, fix: str = "") -> None:
        super().__init__(f"{place}: expected {expected}, found {found}" + (f"; {fix}" if fix else ""))
        self.place = place
        self.expected = expected
        self.found = found
        self.fix = fix


class SourceError(BudgetError):
    """An error source that cannot be used."""


class ChainError(BudgetError):
    """A chart from which no error chain can be derived."""
