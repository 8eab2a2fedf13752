"""Three states of a file made one: as it was read from the drawing, as a person left it, as the drawing now
is."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

Tree = dict[str, Any]
Path = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Change:
    """what: "set", "add" or "remove" at that path; value: the new one."""

    what: str
    path: Path
    value: Any = None


@dataclass(frozen=True, slots=True)
class Conflict:
    """Both changed it: what a person wrote stays. was, mine, drawn: None where there is none."""

    path: Path
    was: Any
    mine: Any
    drawn: Any


def merge(base: Tree, mine: Tree, drawn: Tree, whole: set[int]) -> tuple[list[Change], list[Conflict]]:
    """Changes that bring `mine` up to `drawn`, and what both changed. whole: depths at which an entry is
    added or taken away as one (a part, a feature, a mate)."""
    changes: list[Change] = []
    conflicts: list[Conflict] = []
    _walk(base, mine, drawn, (), whole, changes, conflicts)
    return changes, conflicts


def _walk(
    base: Any,
    mine: Any,
    drawn: Any,
    path: Path,
    whole: set[int],
    changes: list[Change],
    conflicts: list[Conflict],
) -> None:
    for key in dict.fromkeys([*base, *mine, *drawn]):
        b, m, d = base.get(key), mine.get(key), drawn.get(key)
        at = (*path, key)
        if all(isinstance(v, dict) for v in (b, m, d)):
            _walk(b, m, d, at, whole, changes, conflicts)
        elif same(d, b) or same(m, d):
            continue  # the drawing says what it said: whatever a person made of it stays
        elif same(m, b):
            what = "remove" if d is None else "add" if m is None else "set"
            changes.append(Change(what, at, d))
        else:
            conflicts.append(Conflict(at, b, m, d))


def same(a: Any, b: Any) -> bool:
    """Equal, whatever way the numbers are written."""
    return bool(_plain(a) == _plain(b))


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {str(k): _plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(v) for v in value]
    found = re.fullmatch(r"\s*([-+]?[0-9.]+(?:[eE][-+]?\d+)?)\s*(.*?)\s*", str(value))
    if found is None:
        return str(value)
    try:
        return round(float(found[1]), 6) + 0.0, found[2]
    except ValueError:
        return str(value)
