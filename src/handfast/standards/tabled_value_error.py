"""The error raised when a table of a standard is asked for something it does not hold."""

from __future__ import annotations

from collections.abc import Iterable


class TabledValueError(ValueError):
    """A size, letter, grade or designation that the table does not hold.

    place: which table; expected: what it holds; found: what was asked for; fix: what to write instead.
    """

    def __init__(self, place: str, expected: str, found: object, fix: str) -> None:
        self.place, self.expected, self.found, self.fix = place, expected, found, fix
        super().__init__(f"{place}: expected {expected}, found {found!r}; {fix}")


def not_in_table(place: str, found: object, known: Iterable[object]) -> TabledValueError:
    """The error for a key that is not in a table, listing the keys that are."""
    names = ", ".join(str(key) for key in known)
    return TabledValueError(place, f"one of {names}", found, "write one of these")
