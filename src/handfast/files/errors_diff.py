"""Measured sigmas written into errors.yaml, everything else in it left as it stands."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

_SIGMA = re.compile(r"(\bsigma:\s*\[)([^\]]*)(\])")
_ANCHOR = re.compile(r":\s*&([\w-]+)")
_NAMES = ("x", "y", "z", "rx", "ry", "rz")
FREEDOMS = len(_NAMES)


@dataclass(frozen=True, slots=True)
class Measured:
    """A sigma to be written: of a source, in one freedom, in m or rad; what: where it comes from, in
    words."""

    source: str
    freedom: int
    sigma: float
    what: str


Known = Mapping[str, tuple[float, ...]]
"""The sigma (6,) of every source as the file has it now [m, rad]."""


def with_measured(path: Path, measured: Sequence[Measured], known: Known) -> tuple[str, tuple[Measured, ...]]:
    """The text of the file with the sigmas that could be written, and those that could not: their sources
    stand elsewhere, or not in the forms that this knows.

    A source that takes its sigma over from another (`<<: *name`) gets one of its own; others that take it
    over from a source that changes keep what they had, written out. Raises OSError.
    """
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    left = []
    for one in measured:
        if not 0 <= one.freedom < FREEDOMS or not _write(lines, one, known):
            left.append(one)
    return "".join(lines), tuple(left)


def diff(path: Path, text: str) -> str:
    """What would change in the file, as a unified diff; "" if nothing. Raises OSError."""
    old = path.read_text(encoding="utf-8").splitlines(keepends=True)
    new = text.splitlines(keepends=True)
    return "".join(difflib.unified_diff(old, new, f"a/{path.name}", f"b/{path.name}"))


def shown(sigma: float, freedom: int) -> str:
    """As errors.yaml writes it, three digits."""
    return f"{1e3 * sigma:.3g} mm" if freedom < 3 else f"{math.degrees(sigma):.3g} deg"


def _write(lines: list[str], one: Measured, known: Known) -> bool:
    at = _own_sigma(lines, one.source, known)
    if at is None:
        return False
    found = _SIGMA.search(lines[at])
    values = found.group(2).split(",") if found else []
    if found is None or len(values) != FREEDOMS:
        return False
    anchor = _ANCHOR.search(lines[_head(lines, one.source) or 0])
    if anchor is not None:
        _keep_others(lines, anchor.group(1), known)
        at = _own_sigma(lines, one.source, known) or at
    values[one.freedom] = (" " if one.freedom else "") + shown(one.sigma, one.freedom)
    indent = lines[at][: len(lines[at]) - len(lines[at].lstrip())]
    lines[at] = _SIGMA.sub(lambda m: f"{m.group(1)}{','.join(values)}{m.group(3)}", lines[at], count=1)
    name, said = _NAMES[one.freedom], f" measured: {one.what}\n"
    if at and lines[at - 1].endswith(said):  # of another freedom of the same source
        lines[at - 1] = f"{lines[at - 1].removesuffix(said)}, {name}{said}"
    else:
        lines.insert(at, f"{indent}# {name}{said}")
    return True


def _own_sigma(lines: list[str], source: str, known: Known) -> int | None:
    """The line in which the sigma of a source stands; one is written for it where it takes another's over."""
    head = _head(lines, source)
    if head is None:
        return None
    if "{" in lines[head].split("#")[0]:
        if not _SIGMA.search(lines[head]):
            if source not in known or "<<:" not in lines[head] or "}" not in lines[head]:
                return None
            before, _, after = lines[head].rpartition("}")
            lines[head] = f"{before}, sigma: {_list(known[source])}}}{after}"
        return head
    block = _block(lines, head)
    own = next((i for i in block if _SIGMA.search(lines[i])), None)
    merged = next((i for i in block if lines[i].lstrip().startswith("<<:")), None)
    if own is None and merged is not None and source in known:
        indent = lines[merged][: len(lines[merged]) - len(lines[merged].lstrip())]
        lines.insert(merged + 1, f"{indent}sigma: {_list(known[source])}\n")
        return merged + 1
    return own


def _keep_others(lines: list[str], anchor: str, known: Known) -> None:
    """Sources that take over what stands at an anchor keep their sigma, written out."""
    for source in known:
        head = _head(lines, source)
        if head is not None:
            text = "".join(lines[i] for i in (head, *_block(lines, head)))
            if re.search(rf"<<:\s*\*{re.escape(anchor)}\b", text):
                _own_sigma(lines, source, known)


def _list(sigma: Sequence[float]) -> str:
    return f"[{', '.join(shown(v, i) for i, v in enumerate(sigma))}]"


def _head(lines: list[str], source: str) -> int | None:
    """The line in which a source begins."""
    named = re.compile(rf"^\s+[\"']?{re.escape(source)}[\"']?\s*:(\s|$)")
    return next((i for i, line in enumerate(lines) if named.match(line)), None)


def _block(lines: list[str], head: int) -> range:
    """The lines that belong to it, below its first."""
    own = len(lines[head]) - len(lines[head].lstrip())
    end = head + 1
    while end < len(lines) and (not lines[end].strip() or len(lines[end]) - len(lines[end].lstrip()) > own):
        end += 1
    return range(head + 1, end)
