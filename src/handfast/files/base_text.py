"""Where an arm stands, written into cell.yaml, everything else in it left as it stands."""

from __future__ import annotations

import math
import re

import numpy as np

from handfast.spatial.pose import Pose

_BASE = re.compile(r"^(\s*)base:\s*\{.*\}\s*(#.*)?$")


def with_base(text: str, arm: str, base: Pose, other: str) -> str | None:
    """The text of cell.yaml with an arm's base as it was measured from another arm; None if the base does not
    stand in one line below the arm's name."""
    lines = text.splitlines(keepends=True)
    at = _line_of(lines, arm)
    if at is None:
        return None
    found = _BASE.match(lines[at].rstrip("\n"))
    if found is None:
        return None
    indent = found.group(1)
    own = len(indent)
    block = []
    for line in lines[at + 1 :]:
        if line.strip() and len(line) - len(line.lstrip()) < own:
            break
        block.append(line)
    written = f"{indent}base: {shown(base)}   # measured from the {other} arm\n"
    more = (
        []
        if any(ln.lstrip().startswith("measured_from:") for ln in block)
        else [f"{indent}measured_from: {other}\n"]
    )
    return "".join([*lines[:at], written, *more, *lines[at + 1 :]])


def shown(pose: Pose) -> str:
    """As cell.yaml writes it: to a tenth of a micrometre, and as much at the end of a metre."""
    x, y, z = (f"{1e3 * v:.4f}".rstrip("0").rstrip(".") for v in pose.position)
    rx, ry, rz = (f"{math.degrees(v):.6f}".rstrip("0").rstrip(".") for v in _turns(pose.matrix))
    place = ", ".join(f"{_plain(v)} mm" for v in (x, y, z))
    turn = ", ".join(f"{_plain(v)} deg" for v in (rx, ry, rz))
    return f"{{position: [{place}], turn: [{turn}]}}"


def _plain(text: str) -> str:
    return "0" if text in ("-0", "") else text


def _turns(T: np.ndarray) -> tuple[float, float, float]:
    """About the fixed x, then y, then z axis [rad]."""
    y = math.asin(max(-1.0, min(1.0, -float(T[2, 0]))))
    if abs(math.cos(y)) < 1e-9:  # x and z turn about one line: all is put down to x
        return math.atan2(-float(T[1, 2]), float(T[1, 1])), y, 0.0
    return math.atan2(float(T[2, 1]), float(T[2, 2])), y, math.atan2(float(T[1, 0]), float(T[0, 0]))


def _line_of(lines: list[str], arm: str) -> int | None:
    """The line of an arm's base, below `arms:` and the arm's name."""
    within, own = False, 0
    head = re.compile(rf"^(\s+)[\"']?{re.escape(arm)}[\"']?\s*:")
    named = False
    for i, line in enumerate(lines):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        indent = len(line) - len(line.lstrip())
        if indent == 0:
            within, named = line.startswith("arms:"), False
        elif within and (found := head.match(line)) and not named:
            named, own = True, len(found.group(1))
        elif named and indent <= own:
            return None
        elif named and _BASE.match(line.rstrip("\n")):
            return i
    return None
