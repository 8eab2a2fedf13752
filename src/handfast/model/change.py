"""A change to a project that would help, as data that can be applied and tested."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

ChangeKind = Literal["move holder", "widen jaws", "lengthen fingers", "move obstacle", "drop need"]


@dataclass(frozen=True, slots=True)
class Change:
    """target: the holder, gripper, obstacle or mate; value, by kind: displacement x y z in world [m];
    greatest opening [m]; finger length [m]; displacement [m]; nothing. what: the need that is dropped.
    file, text: where it is written, and how, for a person."""

    kind: ChangeKind
    target: str
    value: tuple[float, ...]
    file: str
    text: str
    what: str = ""
