"""How far the pieces of a moving arm can move at most, as array arithmetic: the compiled one is held against
it."""

from __future__ import annotations

import numpy as np

from handfast.proof.pieces_table import Index
from handfast.spatial.se3 import Array


def travel_bounds(
    axes: Array, reach: Array, joints: Array, steps: Array, centre: Array, radius: Array, joint_of: Index
) -> tuple[Array, Array, Array, Array]:
    """Shift (I, C, S, 3), rest (I, S), turn (I, S) and tail (I, S, n + 1) of S pieces that all move with the
    arm."""
    n = len(axes)
    axis = np.einsum("ijab,jb->ija", joints[:, 1:, :3, :3], axes)
    moved = joint_of[:, None] >= np.arange(1, n + 1)[None, :]
    arm_to_centre = centre[:, :, None] - joints[:, None, 1:, :3, 3]
    column = np.cross(axis[:, None], arm_to_centre) * moved[None, :, :, None]
    shift = np.einsum("icj,isjx->icsx", steps, column)
    turned = np.einsum("icj,ijx,sj->icsx", steps, axis, moved)
    tilt = np.linalg.norm(turned, axis=-1).max(axis=1)
    each = np.abs(steps).max(axis=1)[:, None, :] * moved[None]
    before = np.cumsum(each, axis=-1) - each
    own = np.linalg.norm(arm_to_centre[:, np.arange(len(moved)), joint_of - 1], axis=-1)
    along = np.concatenate([[0.0], np.cumsum(reach)[:-1]])
    links = np.maximum(along[joint_of - 1][:, None] - along[None, :], 0.0)
    lever = (links[None] + own[..., None]) * moved[None] + radius[None, :, None]
    bend = (lever * (each * each + 2 * each * before)).sum(axis=-1) / 2
    summed = each * (np.linalg.norm(column, axis=-1) + radius[None, :, None])
    suffix = np.cumsum(summed[..., ::-1], axis=-1)[..., ::-1] + bend[..., None]
    tail = np.concatenate([suffix, np.zeros_like(bend)[..., None]], axis=-1)
    return shift, radius * tilt + bend, tilt + each.sum(axis=-1) ** 2 / 2, tail
