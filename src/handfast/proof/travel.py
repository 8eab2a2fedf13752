"""How far the pieces of a moving arm can move at most."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from handfast.proof.bodies import CellBodies
from handfast.proof.lengths import lengths
from handfast.proof.pieces_table import Index
from handfast.proof.stl import Array


def travel_bounds(
    cell: CellBodies, name: str, joints: Array, steps: Array, centre: Array, radius: Array, joint_of: Index
) -> tuple[Array, Array, Array, Array]:
    """Shift (I, C, S, 3), rest (I, S), turn (I, S) and tail (I, S, n + 1) of the S pieces of a moving arm.

    The centre of a piece moves by a step in the hull of its C shifts; the rest is what its points move beside
    that at most. Together they are its travel.

    A point p of a piece: |p(q + d) - p(q)| <= |J d| + sum over i, k of |d_i| |d_k| L_max(i,k) / 2, for the
    second derivative of p by q_i and q_k is at most the distance L of p from the later joint's origin. J d is
    linear in d, and d lies in the hull of the control steps, so its largest value is at one of them. L is
    bounded by the lengths of the links between.
    """
    arm = cell.arms[name]
    axis = np.einsum("ijab,jb->ija", joints[:, 1:, :3, :3], arm.axes)
    moved = joint_of[:, None] >= np.arange(1, arm.joints + 1)[None, :]
    arm_to_centre = centre[:, :, None] - joints[:, None, 1:, :3, 3]
    column = np.cross(axis[:, None], arm_to_centre) * moved[None, :, :, None]
    length = lengths(column)
    # As products of matrices, which take a tenth of what one sum over all indices does.
    shift = (steps[:, None] @ column).transpose(0, 2, 1, 3)
    turned = moved[None, :, :, None] * axis[:, None]
    tilt = lengths(steps[:, None] @ turned).max(axis=2)
    largest = np.abs(steps).max(axis=1)
    each = largest[:, None, :] * moved[None]
    before = np.cumsum(each, axis=-1) - each
    lever = _levers(arm.reach, arm_to_centre, joint_of, moved) + radius[None, :, None]
    bend = (lever * (each * each + 2 * each * before)).sum(axis=-1) / 2
    summed = each * (length + radius[None, :, None])
    suffix = np.cumsum(summed[..., ::-1], axis=-1)[..., ::-1] + bend[..., None]
    tail = np.concatenate([suffix, np.zeros_like(bend)[..., None]], axis=-1)
    return shift, radius * tilt + bend, tilt + each.sum(axis=-1) ** 2 / 2, tail


def _levers(reach: Array, arm_to_centre: Array, joint_of: Index, moved: NDArray[np.bool_]) -> Array:
    """(I, S, n): how far a piece's centre can get from each joint's origin, whatever the joints do in
    between."""
    S = len(moved)
    own = lengths(arm_to_centre[:, np.arange(S), joint_of - 1])
    along = np.concatenate([[0.0], np.cumsum(reach)[:-1]])
    links = np.maximum(along[joint_of - 1][:, None] - along[None, :], 0.0)
    return np.asarray((links[None] + own[..., None]) * moved[None])
