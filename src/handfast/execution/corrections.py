"""What touches have shown, and how far the hands' targets move because of it.

A touch shows the twist by which a moving feature is off in the fixed feature's frame; taking it back moves
the hand in the world by `T_world_fixed @ Exp(-twist) @ inv(T_world_fixed)`.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from handfast.model.element import Element
from handfast.model.product import Product
from handfast.spatial import se3
from handfast.spatial.se3 import Array

_GOES_HOME = ("move", "position", "assemble", "use", "release")


@dataclass(frozen=True, slots=True)
class Corrections:
    """twists: by mate, (6,) [m, rad]: how far its moving feature is off in the fixed feature's frame."""

    twists: dict[str, Array] = field(default_factory=dict)

    def shift(self, mate: str, T_world_fixed: Array) -> Array:
        """How far targets of the mate move: T_world_tip' = shift @ T_world_tip (4, 4)."""
        twist = self.twists.get(mate, np.zeros(6))
        return np.asarray(T_world_fixed @ se3.exp(-twist) @ se3.inverse(T_world_fixed))


def goes_home(element: Element, product: Product) -> bool:
    """Whether the element brings the part to its fixed feature, or leaves it there: only these are corrected.

    Picking up, passing on and touching stay where they were planned.
    """
    if element.kind not in _GOES_HOME or not element.mate:
        return False
    first = product.mate(element.mate).pairs[0]
    return element.target == f"{first.fixed_part}.{first.fixed}"
