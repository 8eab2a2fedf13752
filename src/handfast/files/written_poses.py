"""Poses of arms and holders written into cell.yaml, everything else in it left as it stands."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import yaml

from handfast.spatial.pose import Pose


@dataclass(frozen=True, slots=True)
class Standing:
    """An arm or a holder that stands upright at a pose in the world."""

    kind: Literal["arm", "holder"]
    name: str
    pose: Pose

    @property
    def path(self) -> tuple[str, str, str]:
        """Where the pose is written."""
        return ("arms", self.name, "base") if self.kind == "arm" else ("holders", self.name, "at")

    @property
    def text(self) -> str:
        """As project files write it, to a thousandth of a millimetre and of a degree; only the turn about z
        is told."""
        x, y, z = (f"{round(1e3 * v, 3) + 0.0:g} mm" for v in self.pose.position)
        matrix = self.pose.matrix
        turn = round(math.degrees(math.atan2(matrix[1, 0], matrix[0, 0])), 3) + 0.0
        return f"{{position: [{x}, {y}, {z}], turn: [0 deg, 0 deg, {turn:g} deg]}}"


def with_poses(path: Path, standing: Sequence[Standing]) -> tuple[str, tuple[Standing, ...]]:
    """The text of the file with the poses that could be written, and those that could not: they are not
    written out where the thing stands (taken over from another by `<<` or `*`). Raises OSError, and
    yaml.YAMLError for a file that is no YAML."""
    text = path.read_text(encoding="utf-8")
    root = yaml.compose(text, Loader=yaml.SafeLoader)
    spans, left = [], []
    for one in standing:
        node = root
        for key in one.path:
            node = _value(node, key)
        if node is None or text[node.start_mark.index] == "&":  # a name, by which others take it over
            left.append(one)
        else:
            spans.append((node.start_mark.index, _end(text, node), one.text))
    for start, end, new in sorted(spans, reverse=True):
        text = text[:start] + new + text[end:]
    return text, tuple(left)


def _value(node: yaml.Node | None, key: str) -> yaml.Node | None:
    if not isinstance(node, yaml.MappingNode):
        return None
    found = next(((name, value) for name, value in node.value if name.value == key), None)
    if found is None or found[1].start_mark.index < found[0].end_mark.index:
        return None  # an alias: what it stands for was written before, perhaps for others too
    value: yaml.Node = found[1]
    return value


def _end(text: str, node: yaml.Node) -> int:
    """Where a value ends: one that is not in braces ends before the space that follows it."""
    end = node.end_mark.index
    while end > node.start_mark.index and text[end - 1].isspace():
        end -= 1
    return int(end)
