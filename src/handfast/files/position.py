"""Where in the user's files something was written."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

Path = tuple[str, ...]
"""Keys from the top of a file, which is named first by its role: ("product", "parts", "pin", "mass")."""


@dataclass(frozen=True, slots=True)
class Position:
    """A place in a file; file: as the user would name it; line, column: from 1, 0 where none applies."""

    file: str
    line: int = 0
    column: int = 0


@dataclass(frozen=True, slots=True)
class SourceMap:
    """Where each value of a project was written: of a scalar its own place, of the rest that of its key."""

    places: Mapping[Path, Position] = field(default_factory=dict)

    def at(self, *path: str) -> Position:
        """The place of that value, or of the nearest thing above it that was written, or an empty place."""
        for length in range(len(path), 0, -1):
            place = self.places.get(path[:length])
            if place is not None:
                return place
        return Position("")
