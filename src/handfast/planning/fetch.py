"""The tool of a mate in the hand, and a screw on the tool."""

from __future__ import annotations

from collections.abc import Iterator

from handfast.mates.grasps import grasps
from handfast.model.grasp import Grasp
from handfast.model.mate import Mate
from handfast.planning.caps import first_leg
from handfast.planning.failure import Failure
from handfast.planning.fasten import Round, drive, take_up
from handfast.planning.leg import Leg
from handfast.planning.old_choices import grasps_in_order
from handfast.planning.pick import pick
from handfast.planning.place import goal
from handfast.planning.sifted import no_grasp
from handfast.planning.touch_move import touch_first
from handfast.planning.workspace import Workspace


def fetch(ws: Workspace, leg: Leg, mate: Mate, hand: str, seed: int) -> Iterator[Leg | Failure]:
    """Legs after which the hand has the mate's tool: taken from its stand, or kept from before."""
    tool = ws.project.cell.tool(mate.tool or "")
    held = leg.state.held_by(hand)
    if held == tool.name:
        yield leg
    elif held is not None:
        yield Failure("hand is taken", f"the {hand} hand holds {held}")
    else:
        item = ws.items[tool.name]
        every = grasps(ws.hands[hand].gripper, tool.name, item.features, item.mass, item.friction)
        if not every:
            yield no_grasp(ws.hands[hand].gripper, tool.name, item.features)
        for k in grasps_in_order(ws.old, hand, tool.name, every):
            # By which branch of the arm it is taken is all one.
            yield from first_leg(pick(ws, leg, hand, tool.name, every[k], mate.name, seed))


def start_screw(
    ws: Workspace, leg: Leg, hand: str, mate: Mate, turn: Round, seed: int
) -> Iterator[Leg | Failure]:
    """Legs that take a screw up from where it waits and drive it as far as `turn` says."""
    grasp = grasp_in(leg, hand)
    # How the screw is turned on the bit is all one.
    for taken in first_leg(take_up(ws, leg, hand, mate, grasp, seed)):
        if isinstance(taken, Failure):
            yield taken
            continue
        home = goal(ws, taken.state, mate).T_world_home
        yield from touch_first(
            ws, taken, hand, mate, grasp, home, seed,
            lambda touched: drive(ws, touched, hand, mate, grasp, turn, seed),
        )  # fmt: skip


def grasp_in(leg: Leg, hand: str) -> Grasp:
    """How a hand holds what it holds: its last grasp. Raises LookupError if it never grasped."""
    for e in reversed(leg.elements):
        if e.hand == hand and e.grasp is not None:
            return e.grasp
    raise LookupError(f"the {hand} hand has not grasped anything")
