"""How a part that sits on the one beneath comes to lie on it once the hand lets go."""

from __future__ import annotations

import numpy as np

from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.trials.true_cell import TrueCell
from handfast.trials.true_insertion import seat_in_world

_Z = np.array([0.0, 0.0, 1.0])


def come_to_lie(cell: TrueCell, item: str) -> None:
    """A seated part goes down flat on the part beneath: no more height and tilt than drawn. Its first feature
    stays where the fit has it and as it is turned. Anything else stays as it is."""
    mate = next((m for m in cell.project.product.mates if m.part == item), None)
    if mate is None or mate.kind != "seat" or cell.items[item].parent != f"part.{mate.into}":
        return
    # As drawn: the part lies on its face, and what is drilled off in it is off from there.
    T_part_moving = cell.project.product.part(item).feature(mate.pairs[0].moving).frame.matrix
    T_world_seat = seat_in_world(cell, mate)
    T_seat_moving = se3.inverse(T_world_seat) @ cell.T_world(item) @ T_part_moving
    lies = _flat(T_seat_moving)
    T_world_into = cell.T_world(mate.into)
    cell.attach(
        item,
        f"part.{mate.into}",
        se3.inverse(T_world_into) @ T_world_seat @ lies @ se3.inverse(T_part_moving),
    )


def _flat(T: Array) -> Array:
    """A pose (4, 4) turned by the least that brings its z upright, at no height."""
    z = T[:3, 2]
    axis, cosine = np.cross(z, _Z), float(np.clip(z @ _Z, -1.0, 1.0))
    size = float(np.linalg.norm(axis))
    turned = T if size < 1e-15 else se3.rotation(axis / size, float(np.arccos(cosine))) @ T
    return se3.pose(turned[:3, :3], np.array([T[0, 3], T[1, 3], 0.0]))
