"""The bit of a driver over the socket of a screw, as an error form."""

from __future__ import annotations

import numpy as np

from handfast.model.feature import Feature
from handfast.model.tool import Tool
from handfast.spatial import se3
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import Array
from handfast.uncertainty.chain_state import State
from handfast.uncertainty.entry import PairEntry
from handfast.uncertainty.error_form import Form, composed, moved, reverse
from handfast.uncertainty.jaws import Given


def bit_form(given: Given, state: State, tool: Tool, element: str) -> Form:
    """Twist of the bit in its own frame: the tool's deviation and the bit's runout."""
    runout = given.sources.form(f"tool.{tool.name}.bit", element, f"bit of {tool.name}")
    of_tool = moved(se3.inverse(tool.bit.matrix), state.items[tool.name].form)
    return composed(of_tool, runout, given.sources.variances)


def bit_over_socket(
    given: Given, state: State, tool: Tool, screw: str, element: str, goal: Array | None = None
) -> PairEntry | None:
    """The bit relative to the bottom of the screw's socket, as the tool stands; None for a screw without
    one. goal: T_world_fixed of the screw's mate where the hand's targets move by what touches show of it.
    """
    sockets = [f for f in given.project.product.part(screw).features if f.kind == "hole"]
    if not sockets:
        return None
    socket = sockets[0]
    T_part_bottom = socket.frame.matrix @ se3.translation(0.0, 0.0, socket.length or 0.0)
    T_world_bottom = state.nominal(screw, element) @ T_part_bottom
    T_bottom_bit = se3.inverse(T_world_bottom) @ state.nominal(tool.name, element) @ tool.bit.matrix
    # Height and turn are the tool's to find; what is asked is how far the two axes are apart.
    T_bottom_bit[:3, 3] = 0.0
    of_screw = moved(se3.inverse(T_part_bottom), state.items[screw].form)
    of_bit = moved(T_bottom_bit, bit_form(given, state, tool, element))
    delta = composed(reverse(of_screw), of_bit, given.sources.variances)
    bit = Feature(f"bit of {tool.name}", "shaft", Pose())
    shift = np.zeros((6, 6)) if goal is None else se3.adjoint(se3.inverse(T_world_bottom) @ goal)
    return PairEntry(bit, socket, screw, 0.0, delta, T_bottom_bit, shift=shift)
