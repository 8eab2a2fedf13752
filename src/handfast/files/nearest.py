"""The valid name that the user most likely meant."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches


def nearest(name: str, valid: Iterable[str]) -> str:
    """What to write instead, as a sentence: the nearest valid name, or "" where none is near."""
    folded = {v.casefold(): v for v in valid}
    close = get_close_matches(name.casefold(), folded, n=1, cutoff=0.6)
    return f"write {folded[close[0]]!r}" if close else ""


def listed(valid: Iterable[str]) -> str:
    """The names that there are, for a message."""
    return ", ".join(valid) or "none"
