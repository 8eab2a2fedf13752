"""Whether jaws can close on an item: on the features that they hold, and on nothing beside them."""

from __future__ import annotations

import numpy as np

from handfast.model.grasp import Grasp
from handfast.planning.clear_line import Hit, Placed, blocked
from handfast.planning.workspace import Workspace
from handfast.spatial.se3 import Array

_EASED = 0.0001  # the closed jaws, opened by this on either side, hold nothing any more [m]
_HERE = np.zeros(3)


def jaws_cut(ws: Workspace, hand: str, grasp: Grasp) -> Hit | None:
    """Where closed jaws, or the palm, would cut into the item beside what they hold; None if they do not."""
    if (hand, grasp) not in ws.closed:
        ws.closed[hand, grasp] = _jaws_cut(ws, hand, grasp)
    return ws.closed[hand, grasp]


def _jaws_cut(ws: Workspace, hand: str, grasp: Grasp) -> Hit | None:
    item = ws.items[grasp.item]
    eased = ws.jaws(hand, grasp.width + 2 * _EASED)
    held = [(item.exact, grasp.T_grip_part.matrix)]
    return blocked([(eased, np.eye(4))], held, np.eye(4), _HERE, memo=ws.memo, need=_EASED / 2)


def members_cut(ws: Workspace, built_in: list[tuple[str, Array]], hand: str, grasp: Grasp) -> Hit | None:
    """Where closed jaws would come too near to what is built into the item that they hold; None if they do
    not. built_in: (part, T_item_part)."""
    members = placed_in(ws, built_in, grasp)
    if not members:
        return None
    return blocked([(ws.jaws(hand, grasp.width), np.eye(4))], members, np.eye(4), _HERE, memo=ws.memo)


def placed_in(ws: Workspace, built_in: list[tuple[str, Array]], grasp: Grasp) -> Placed:
    """Bodies of what is built into a held item, T_grip_body."""
    T_grip_part = grasp.T_grip_part.matrix
    return [(ws.items[name].exact, T_grip_part @ T) for name, T in built_in]
