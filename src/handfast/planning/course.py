"""How one hand goes through one element, on the time grid."""

from __future__ import annotations

from dataclasses import dataclass, field

from handfast import _kernel
from handfast.motion.two_hands import Cells
from handfast.spatial.se3 import Array


@dataclass(frozen=True, eq=False, slots=True)
class Course:
    """cover: the hand's spheres, with what it holds; q: joint values at each step, both ends included,
    (steps + 1, n); way: how far a sphere may be off between a step and its neighbours, (steps + 1,) [m]; met:
    the cells in which it is too close to a course of the other hand, worked out once."""

    cover: _kernel.Cover
    q: Array
    way: Array
    met: dict[Course, Cells] = field(default_factory=dict)

    def meets(self, other: Course, margin: float) -> Cells:
        """Cells (steps of this + 1, of the other + 1) in which the arms may come closer than `margin` [m]
        until the next step or since the one before; not to be written to."""
        if other not in self.met:
            self.met[other] = _kernel.closer(
                self.cover, self.q, self.way, other.cover, other.q, other.way, margin
            )
        return self.met[other]
