"""A change to a project that would help, as data that can be applied and tested."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

ChangeKind = Literal[
    "move holder",
    "widen jaws",
    "lengthen fingers",
    "move obstacle",
    "drop need",
    "add arm",
    "drop hold",
    "move arm",
]


@dataclass(frozen=True, slots=True)
class Change:
    """target: the holder, gripper, obstacle, mate or arm; value, by kind: displacement x y z in world [m];
    greatest opening [m]; finger length [m]; displacement [m]; nothing; pose of the new base in the world,
    x y z [m] and its turn about the vertical against the arm that it is like [rad]; nothing; displacement
    [m]. what: the need that is dropped; the name of the new arm.
    file, text: where it is written, and how, for a person."""

    kind: ChangeKind
    target: str
    value: tuple[float, ...]
    file: str
    text: str
    what: str = ""
