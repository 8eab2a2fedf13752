"""What stands still round a hand that moves, by its covers, with names."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast import _kernel


@dataclass(frozen=True, eq=False, slots=True)
class Surroundings:
    """What stands still round a hand: names of what its boxes and its balls belong to, and how many there are
    up to each."""

    world: _kernel.World
    names: tuple[str, ...]
    boxes: np.ndarray
    hands: tuple[str, ...]
    balls: np.ndarray

    def name(self, kind: int, row: int) -> str:
        """What an obstacle of the kernel belongs to."""
        if kind == _kernel.BOX:
            return self.names[int(np.searchsorted(self.boxes, row, side="right"))]
        if kind == _kernel.SPHERE:
            return self.hands[int(np.searchsorted(self.balls, row, side="right"))]
        return "another of its links"
