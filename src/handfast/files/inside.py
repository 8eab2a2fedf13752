"""Paths that stay inside the project folder."""

from __future__ import annotations

from pathlib import Path


def inside(folder: Path, written: str) -> Path | None:
    """The file meant by a relative path, or None if it would lie outside the folder (links followed)."""
    if "\0" in written or "\\" in written or Path(written).is_absolute():
        return None
    try:
        target = (folder / written).resolve()
    except (OSError, RuntimeError):  # a name too long, a loop of links
        return None
    return target if target.is_relative_to(folder.resolve()) else None
