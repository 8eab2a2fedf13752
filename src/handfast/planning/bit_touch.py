"""A tool taken from its stand, its bit led to the ball of an artefact at two heights, and put back."""

from __future__ import annotations

import numpy as np

from handfast.execution.ball_round import BallTouch, ToolRound
from handfast.mates.grasps import grasps
from handfast.model.grasp import Grasp
from handfast.model.shape import Cylinder
from handfast.model.tool import Tool, bit_solids
from handfast.planning.ball_touch import Around, guarded_at
from handfast.planning.caps import first_leg
from handfast.planning.connect import connect
from handfast.planning.failure import Failure
from handfast.planning.leg import Leg
from handfast.planning.pick import grip_pose, pick
from handfast.planning.put import put
from handfast.planning.resumed import NoWayError
from handfast.planning.state import State
from handfast.planning.stream import stream
from handfast.spatial import se3
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import Array

_END = 2e-3  # kept from the ends of what is touched of a bit [m]
_SIDES = np.radians(np.arange(0.0, 360.0, 45.0))


def bit_round(there: Around, hand: str, tool: Tool, q: dict[str, Array], seed: int = 0) -> ToolRound:
    """One hand with one tool. q: where each arm stands, jaws open and empty. Raises NoWayError."""
    ws = there.full
    state = ws.start()
    for name, values in q.items():
        state = state.moved(name, values)
    item, where = ws.items[tool.name], state.scene.of(tool.name)
    why = ""
    for grasp in grasps(ws.hands[hand].gripper, tool.name, item.features, item.mass, item.friction):
        for leg in first_leg(pick(ws, Leg(state), hand, tool.name, grasp, "", seed)):
            if isinstance(leg, Failure):
                why = why or f"{leg.cause} ({leg.what})"
                continue
            found = _with_tool(there, leg, hand, tool, grasp, seed)
            if isinstance(found, str):
                why = why or found
                continue
            touches, after = found
            for back in first_leg(put(ws, Leg(after), hand, grasp, where.parent, np.eye(4), "", seed)):
                if isinstance(back, Failure):
                    why = why or f"putting it back: {back.cause} ({back.what})"
                    continue
                home = connect(ws, back.state, hand, q[hand], stream(seed, hand, "home"))
                if not isinstance(home, Failure):
                    T = Pose.from_matrix(grasp.T_grip_part.matrix)
                    return ToolRound(hand, tool.name, T, leg.elements, touches, back.elements, (home,))
                why = why or f"{home.cause} ({home.what})"
    raise NoWayError(f"the {hand} hand does not bring {tool.name} to the ball: {why or 'it cannot grip it'}")


def _with_tool(
    there: Around, leg: Leg, hand: str, tool: Tool, grasp: Grasp, seed: int
) -> tuple[tuple[BallTouch, ...], State] | str:
    """The bit upright beside the ball, from one and the same side at both heights."""
    heights = touched_heights(tool, there.radius)
    if not heights:
        return f"the bit of {tool.name} is too short to be touched beside the ball"
    why = ""
    for side in _SIDES:
        normal = np.array([np.cos(side), np.sin(side), 0.0])
        for turn in _SIDES:
            state, before, made = leg.state, leg.pending, []
            for height, radius in heights:
                T_world_tool = _upright(there, tool, normal, turn, height, radius)
                contact = grip_pose(T_world_tool, grasp)
                names = ("bit", f"{1e3 * height:.1f}")
                found = guarded_at(there, state, hand, contact, normal, names, seed, before)
                if isinstance(found, str):
                    why = why or found
                    break
                made.append(found[0])
                state, before = found[1], ()
            else:
                return tuple(made), state
    return why


def touched_heights(tool: Tool, ball: float) -> tuple[tuple[float, float], ...]:
    """How far up from its tip a bit can be touched with a ball of that radius, low and high, with its own
    radius there [m]; nothing if not. Above, whatever is thicker has to clear the ball."""
    spans = []
    back = se3.inverse(tool.bit.matrix)
    for solid in bit_solids(tool):
        if isinstance(solid.shape, Cylinder):
            middle = -float((back @ solid.pose.matrix)[2, 3])
            half = solid.shape.length / 2
            spans.append((middle - half, middle + half, solid.shape.radius))
    if not spans:
        return ()
    top = max(high for _, high, _ in spans) - ball
    low, high, radius = max(spans, key=lambda s: min(s[1], top) - s[0])
    low, high = low + _END, min(high, top) - _END
    return ((low, radius), (high, radius)) if high - low > _END else ()


def _upright(there: Around, tool: Tool, normal: Array, turn: float, height: float, radius: float) -> Array:
    """T_world_tool (4, 4) with the bit pointing down, touching the ball that lies along `normal` from it."""
    on_axis = there.middle - (there.radius + radius) * normal
    down = np.diag([1.0, -1.0, -1.0])
    rotation = se3.rotation(np.array([0.0, 0.0, 1.0]), turn)[:3, :3] @ down
    tip = on_axis - height * np.array([0.0, 0.0, 1.0])
    return np.asarray(se3.pose(rotation, tip) @ se3.inverse(tool.bit.matrix))
