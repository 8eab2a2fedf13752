"""Logs that grow while they are written: JSON lines, each with its length and checksum (docs/run-log.md).

    {"length":"00000123","crc32":"1a2b3c4d","line":{...}}

length: bytes (UTF-8) of what stands behind "line":, crc32 (ISO 3309, as in zip) of these bytes. So a reader
knows of every line whether it is whole, and a log that was cut off is read up to where it is.
"""

from __future__ import annotations

import json
import os
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

_HEAD = '{{"length":"{:08d}","crc32":"{:08x}","line":'
_HEAD_LENGTH = len(_HEAD.format(0, 0))


class LineWriter:
    """Appends lines to a file that it begins anew or, to go on, leaves as it is; each is handed to the system
    at once."""

    def __init__(self, path: Path, *, go_on: bool = False) -> None:
        path.parent.mkdir(parents=True, exist_ok=True)
        self._file = path.open("ab" if go_on else "wb")

    def close(self) -> None:
        """No more lines."""
        self._file.close()

    def write(self, line: Mapping[str, Any], *, lasting: bool = False) -> None:
        """One line. lasting: on the disk before this returns, whatever happens to the machine."""
        self._file.write(as_line(line))
        self._file.flush()
        if lasting:
            os.fsync(self._file.fileno())


@dataclass(frozen=True, slots=True)
class ReadLines:
    """lines: those that are whole; damage: where and how it goes on, "" if nothing is wrong."""

    lines: tuple[dict[str, Any], ...]
    damage: str = ""


def as_line(line: Mapping[str, Any]) -> bytes:
    """The bytes of one line, its end included."""
    body = json.dumps(line, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
    raw = body.encode()
    return _HEAD.format(len(raw), zlib.crc32(raw)).encode() + raw + b"}\n"


def read_lines(path: Path) -> ReadLines:
    """Every line up to the first that is not whole. Raises OSError."""
    lines: list[dict[str, Any]] = []
    for number, raw in enumerate(path.read_bytes().split(b"\n"), 1):
        if raw:
            found = _body(raw)
            if isinstance(found, str):
                return ReadLines(tuple(lines), f"line {number}: {found}")
            lines.append(found)
    return ReadLines(tuple(lines))


def _body(raw: bytes) -> dict[str, Any] | str:
    """What a line says, or why it cannot be trusted."""
    try:
        length, crc = int(raw[11:19]), int(raw[30:38], 16)
    except ValueError:
        return f"expected its length and checksum, found {raw[:40]!r}"
    body = raw[_HEAD_LENGTH:-1]
    if raw[:_HEAD_LENGTH] != _HEAD.format(length, crc).encode():
        return f"expected its length and checksum, found {raw[:40]!r}"
    if len(body) != length or raw[-1:] != b"}":
        return f"expected {length} bytes, found {len(body)}: it was cut off"
    if zlib.crc32(body) != crc:
        return "its checksum does not agree: it was changed"
    try:
        found = json.loads(body)
    except ValueError as error:
        return f"no JSON: {error}"
    return found if isinstance(found, dict) else f"expected an object, found {str(found)[:40]}"
