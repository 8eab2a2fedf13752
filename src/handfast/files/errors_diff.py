"""Measured sigmas written into errors.yaml, everything else in it left as it stands."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

_SIGMA = re.compile(r"^(\s*sigma:\s*\[)([^\]]*)(\].*)$", re.DOTALL)
FREEDOMS = 6


@dataclass(frozen=True, slots=True)
class Measured:
    """A sigma to be written: of a source, in one freedom, in m or rad; what: where it comes from, in
    words."""

    source: str
    freedom: int
    sigma: float
    what: str


def with_measured(path: Path, measured: Sequence[Measured]) -> tuple[str, tuple[Measured, ...]]:
    """The text of the file with the sigmas that could be written, and those that could not: their sources
    stand elsewhere, or not as a list in one line. Raises OSError."""
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    left = []
    for one in measured:
        at = _line_of(lines, one.source)
        if at is None or not 0 <= one.freedom < FREEDOMS:
            left.append(one)
            continue
        found = _SIGMA.match(lines[at])
        values = found.group(2).split(",") if found else []
        if found is None or len(values) != FREEDOMS:
            left.append(one)
            continue
        values[one.freedom] = (" " if one.freedom else "") + shown(one.sigma, one.freedom)
        indent = lines[at][: len(lines[at]) - len(lines[at].lstrip())]
        note = f"{indent}# {['x', 'y', 'z', 'rx', 'ry', 'rz'][one.freedom]} measured: {one.what}\n"
        lines[at : at + 1] = [note, f"{found.group(1)}{','.join(values)}{found.group(3)}"]
    return "".join(lines), tuple(left)


def diff(path: Path, text: str) -> str:
    """What would change in the file, as a unified diff; "" if nothing. Raises OSError."""
    old = path.read_text(encoding="utf-8").splitlines(keepends=True)
    new = text.splitlines(keepends=True)
    return "".join(difflib.unified_diff(old, new, f"a/{path.name}", f"b/{path.name}"))


def shown(sigma: float, freedom: int) -> str:
    """As errors.yaml writes it, three digits."""
    return f"{1e3 * sigma:.3g} mm" if freedom < 3 else f"{math.degrees(sigma):.3g} deg"


def _line_of(lines: list[str], source: str) -> int | None:
    """Where the sigma of a source stands."""
    head = re.compile(rf"^(\s*)[\"']?{re.escape(source)}[\"']?\s*:\s*(#.*)?$")
    for i, line in enumerate(lines):
        if found := head.match(line.rstrip("\n")):
            for j in range(i + 1, len(lines)):
                own = len(lines[j]) - len(lines[j].lstrip())
                if lines[j].strip() and own <= len(found.group(1)):
                    return None
                if _SIGMA.match(lines[j]):
                    return j
    return None
