"""Bringing an arm along planned motions while its targets move by what was measured."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from handfast.execution.cell import Cell, CellError
from handfast.kinematics.chain import Chain
from handfast.model.element import Element
from handfast.model.motion import Motion
from handfast.motion.correct import CorrectionError, corrected
from handfast.spatial.se3 import Array

_SAME = 1e-12
_AT_START = 1e-4  # a motion has to start where the arm stands [rad]


@dataclass(slots=True)
class ArmWay:
    """One arm on its way. shift: how far it stands from where it was planned to, T_world' = shift @ T_world
    (4, 4); q: where it was planned to stand (n,); None before its first motion."""

    cell: Cell
    arm: str
    chain: Chain
    shift: Array = field(default_factory=lambda: np.eye(4))

    @property
    def q(self) -> Array:
        """Where the arm stands (n,) [rad]."""
        return np.array(self.cell.state(self.arm).q)

    def shifted(self, element: Element, wanted: Array) -> tuple[Motion, ...]:
        """The element's motions, moved so that they end `wanted` (4, 4) off the plan.

        The shift grows in a motion through free space: the last of a `move` (it starts where something was
        taken or left), the first of everything else. Raises CellError if the arm cannot follow. Whether they
        hit anything is not looked at here (moved.py).
        """
        grows = len(element.motions) - 1 if element.kind == "move" else 0
        out = []
        for i, motion in enumerate(element.motions):
            target = wanted if i >= grows else self.shift
            out.append(self._moved(motion, self.shift, target))
            self.shift = target
        return tuple(out)

    def go(self, motion: Motion) -> None:
        """One motion; it has to start where the arm stands. Raises CellError."""
        self.at_start(motion)
        self.cell.move(self.arm, motion)

    def at_start(self, motion: Motion) -> None:
        """Raises CellError unless the motion is this arm's and starts where the arm stands."""
        q = self.q
        apart = float(np.max(np.abs(q - np.array(motion.q[0])))) if len(q) == len(motion.q[0]) else np.inf
        if motion.arm != self.arm or not apart <= _AT_START:
            raise CellError(
                f"the {self.arm} arm stands {np.degrees(apart):.3g} deg from where its next motion starts; "
                "bring it there"
            )

    def _moved(self, motion: Motion, start: Array, end: Array) -> Motion:
        if np.abs(start - np.eye(4)).max() < _SAME and np.abs(end - np.eye(4)).max() < _SAME:
            return motion
        try:
            moved = corrected(self.chain, motion, end, start)
        except CorrectionError as error:
            raise CellError(f"{error}; put the parts closer to where they belong") from error
        return moved
