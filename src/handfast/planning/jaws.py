"""Whether jaws can close on an item: on the features that they hold, and on nothing beside them."""

from __future__ import annotations

import numpy as np

from handfast.model.grasp import Grasp
from handfast.planning.clear_line import Hit, blocked
from handfast.planning.state import State
from handfast.planning.workspace import Workspace

_EASED = 0.0001  # the closed jaws, opened by this on either side, hold nothing any more [m]
_HERE = np.zeros(3)


def jaws_cut(ws: Workspace, hand: str, grasp: Grasp) -> Hit | None:
    """Where closed jaws, or the palm, would cut into the item beside what they hold; None if they do not."""
    item = ws.items[grasp.item]
    eased = ws.jaws(hand, grasp.width + 2 * _EASED)
    held = [(item.exact, grasp.T_grip_part.matrix)]
    return blocked([(eased, np.eye(4))], held, np.eye(4), _HERE, memo=ws.memo, need=_EASED / 2)


def members_cut(ws: Workspace, state: State, hand: str, grasp: Grasp) -> Hit | None:
    """Where closed jaws would come too near to what is built into the item that they hold; None if they do
    not."""
    T_grip_part = grasp.T_grip_part.matrix
    built_in = [(ws.items[name].exact, T_grip_part @ T) for name, T in ws.group(state, grasp.item)]
    if not built_in:
        return None
    return blocked([(ws.jaws(hand, grasp.width), np.eye(4))], built_in, np.eye(4), _HERE, memo=ws.memo)
