"""A tolerance that a CAD file states."""

from __future__ import annotations

from dataclasses import dataclass

UNREAD = "with a tolerance that could not be read"
"""Stands in the text of a size whose range cannot be told from another's."""


@dataclass(frozen=True, slots=True)
class Tolerance:
    """A tolerance that the file states for faces of a part. faces: their indices in the graph; kind: "size",
    or what ISO 1101 calls it, such as "position"; of a size: nominal [m], lower, upper: deviations [m] or
    None, fit: ISO 286 class such as H7, or None; text: as found; of the others: zone: its width or, where it
    is round, its diameter [m], datums: their letters."""

    faces: tuple[int, ...]
    kind: str
    nominal: float | None
    lower: float | None
    upper: float | None
    fit: str | None
    text: str
    zone: float | None = None
    round: bool = False
    datums: tuple[str, ...] = ()
