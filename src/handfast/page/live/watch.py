"""When the files of a project folder change."""

from __future__ import annotations

from pathlib import Path

Print = tuple[tuple[str, int, int], ...]
MOST = 20_000


def fingerprint(folder: Path) -> Print:
    """Names, times and sizes of the files in a folder; names that begin with a dot, half-written records and
    logs that grow are left out."""
    found: list[tuple[str, int, int]] = []
    for path in sorted(folder.rglob("*")):
        inside = path.relative_to(folder)
        if any(part.startswith(".") for part in inside.parts) or path.suffix in (".part", ".jsonl"):
            continue
        try:
            seen = path.stat()
        except OSError:  # gone since it was listed
            continue
        if path.is_file():
            found.append((inside.as_posix(), seen.st_mtime_ns, seen.st_size))
        if len(found) > MOST:
            break
    return tuple(found)


def differences(before: Print, after: Print) -> tuple[str, ...]:
    """The files that were changed, came or went."""
    old, new = ({name: (time, size) for name, time, size in seen} for seen in (before, after))
    return tuple(sorted(name for name in old.keys() | new.keys() if old.get(name) != new.get(name)))
