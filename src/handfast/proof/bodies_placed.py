"""Where all bodies of a cell are, at many instants at once."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from handfast.proof.bodies import CellBodies
from handfast.proof.standing import Carrier
from handfast.proof.stl import Array


def place_bodies(
    cell: CellBodies,
    carriers: Mapping[str, Carrier],
    joints: Mapping[str, Array],
    jaws: Mapping[str, tuple[float, float]],
    share: Array,
) -> Array:
    """T_world_body (I, B, 4, 4). carriers: what each item moves with; joints: T_world_joint (I, n + 1, 4, 4)
    of each arm; jaws: width of each hand at share 0 and at share 1 [m], changing evenly; share (I,)."""
    out = np.empty((len(share), len(cell.bodies), 4, 4))
    out[:, cell.standing[0]] = cell.standing[1]
    for arm, poses in joints.items():
        linked, hand, of_joint = cell.moving[arm]
        out[:, linked] = poses[:, of_joint]
        out[:, hand] = (poses[:, -1] @ cell.T_joint_grip[arm])[:, None]
    for i, name in cell.items:
        carrier = carriers[name]
        T = carrier.T_carrier_item
        out[:, i] = joints[carrier.arm][:, -1] @ T if carrier.arm else T
    for i, side, arm in cell.fingers:
        before, after = jaws[arm]
        shift = side * (before + (after - before) * share) / 2
        out[:, i, :3, 3] += shift[:, None] * out[:, i, :3, 1]
    return out
