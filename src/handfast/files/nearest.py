"""The valid name that the user most likely meant."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import SequenceMatcher

_ALIKE = 0.6


def nearest(name: str, valid: Iterable[str]) -> str:
    """What to write instead, as a sentence: the nearest valid name, or "" where none is near.

    Of dotted names only what comes after their common beginning is compared: one feature of a part is not
    like another because both belong to it.
    """
    share, best = max(((_alike(name.casefold(), v.casefold()), v) for v in valid), default=(0.0, ""))
    return f"write {best!r}" if share >= _ALIKE else ""


def _alike(a: str, b: str) -> float:
    first, second = a.split("."), b.split(".")
    while len(first) > 1 and len(second) > 1 and first[0] == second[0]:
        first, second = first[1:], second[1:]
    return SequenceMatcher(None, ".".join(first), ".".join(second)).ratio()


def listed(valid: Iterable[str]) -> str:
    """The names that there are, for a message."""
    return ", ".join(valid) or "none"
