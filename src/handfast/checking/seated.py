"""Where the parts are once they are home, as far as the files tell."""

from __future__ import annotations

import numpy as np

from handfast.checking.case import Case
from handfast.model.mate import Mate
from handfast.spatial import se3
from handfast.spatial.se3 import Array

_Z = np.array([0.0, 0.0, 1.0])


def seated_parts(case: Case) -> dict[str, Array]:
    """T_base_part (4, 4) [m] of every part whose place follows from pairs that could be read."""
    poses: dict[str, Array] = {case.project.product.base: np.eye(4)}
    waiting = list(case.project.product.mates)
    for _ in range(len(waiting)):
        for mate in tuple(waiting):
            seat = seat_of(case, mate, poses)
            if seat is not None:
                poses.setdefault(mate.part, seat)
                waiting.remove(mate)
    return poses


def seat_of(case: Case, mate: Mate, poses: dict[str, Array]) -> Array | None:
    """T_base_part of the mate's part, or None if a part it goes to has no pose yet.

    T_base_part = T_base_fixed Trans(0, 0, depth) inv(T_part_moving) of the first pair; the roll about its z
    brings the second pair's moving origin nearest to where it belongs.
    """
    pairs = list(case.pairs(mate))
    if not pairs or len(pairs) != len(mate.pairs) or any(p.fixed_part not in poses for _, p, _, _ in pairs):
        return None
    _, first, moving, fixed = pairs[0]
    axis = poses[first.fixed_part] @ fixed.frame.matrix @ se3.translation(0, 0, first.depth)
    T_axis_part = se3.inverse(moving.frame.matrix)
    if len(pairs) > 1:
        _, second, moving, fixed = pairs[1]
        have = (T_axis_part @ moving.frame.matrix)[:2, 3]
        want = (se3.inverse(axis) @ poses[second.fixed_part] @ fixed.frame.matrix)[:2, 3]
        turn = np.arctan2(have[0] * want[1] - have[1] * want[0], float(have @ want))
        T_axis_part = se3.rotation(_Z, float(turn)) @ T_axis_part
    return np.asarray(axis @ T_axis_part)
