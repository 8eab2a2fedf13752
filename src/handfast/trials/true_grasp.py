"""What closing jaws do to what is between them."""

from __future__ import annotations

import numpy as np

from handfast.model.grasp import Grasp
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.trials.true_cell import TrueCell

_CATCH = np.array(
    [0.004, 0.004, 0.008, 0.12, 0.12, 0.12]
)  # how far off a part may lie and still be caught [m, rad]


def close_jaws(cell: TrueCell, arm: str, grasps: tuple[Grasp, ...]) -> float:
    """The jaws close on what lies between them: the width they come to [m], the least opening if they catch
    nothing.

    Closed freedoms of the part go to zero in the real jaw frame, free ones keep the part where it was in the
    world. grasps: how these jaws can hold what there is; the one whose part lies nearest to it is what
    happens.
    """
    hand, gripper = cell.hands[arm], cell.project.cell.gripper_of(arm)
    T_jaw = cell.T_grip_jaw(arm)
    T_world_jaw = cell.T_world_grip(arm) @ T_jaw
    best: tuple[float, Grasp, Array] | None = None
    for grasp in grasps:
        if grasp.gripper != gripper.name or grasp.item not in cell.items:
            continue
        eta = se3.log(
            se3.inverse(T_world_jaw) @ cell.T_world(grasp.item) @ se3.inverse(grasp.T_grip_part.matrix)
        )
        reach = np.array(_CATCH)
        reach[1] = min(reach[1], (hand.width - grasp.width) / 2)  # it has to lie between the pads
        reach[3:][_round_about(cell, grasp)] = np.inf
        cost = float(np.max(np.abs(eta) / np.maximum(reach, 1e-12)))
        if cost < 1 and (best is None or cost < best[0]):
            best = (cost, grasp, eta)
    if best is None:
        hand.width, hand.holds, hand.grasp = gripper.opening[0], None, None
        return hand.width
    return _hold(cell, arm, best[1], best[2], T_jaw)


def _round_about(cell: TrueCell, grasp: Grasp) -> Array:
    """About which axes of the grip frame the jaws do not care how what they close on is turned (3,): about
    that of a shaft, if they leave that turn free."""
    round_about = np.array([False, False, grasp.symmetry == "spin"])
    names = {p.name for p in cell.project.product.parts}
    if grasp.item in names and len(grasp.features) == 1:
        feature = cell.project.product.part(grasp.item).feature(grasp.features[0])
        axis = np.abs((grasp.T_grip_part.matrix @ feature.frame.matrix)[:3, 2])
        free = ~np.array(grasp.closed[3:])
        round_about |= (axis > 1 - 1e-6) & free & (feature.kind == "shaft")
    return round_about


def _hold(cell: TrueCell, arm: str, grasp: Grasp, eta: Array, T_grip_jaw: Array) -> float:
    hand = cell.hands[arm]
    for other in cell.hands.values():
        if other.holds == grasp.item:  # the giving hand yields
            other.holds, other.grasp = None, None
    left = cell.draws.deviation(f"grasp.{grasp.gripper}.free", f"{hand.stop}/{grasp.item}")
    free = np.array([0.0 if closed else 1.0 for closed in grasp.closed])
    if _stays(cell, arm, grasp.item):  # the hand bends, the part does not move
        left, free = np.eye(4), np.ones(6)
    T_grip_middle = se3.translation(*grasp.about)  # the part turns about what the pads close on
    T_middle_part = se3.inverse(T_grip_middle) @ grasp.T_grip_part.matrix
    found = se3.inverse(T_grip_middle) @ se3.exp(eta + se3.log(left)) @ T_grip_middle
    slid = se3.exp(free * se3.log(found))
    cell.attach(grasp.item, f"hand.{arm}", T_grip_jaw @ T_grip_middle @ slid @ T_middle_part)
    hand.holds, hand.grasp = grasp.item, grasp
    hand.width = grasp.width + _size_deviation(cell, grasp)
    return hand.width


def _stays(cell: TrueCell, arm: str, item: str) -> bool:
    """Whether the place in which an item lies holds it against the closing force of the jaws."""
    kind, _, path = cell.items[item].parent.partition(".")
    if kind != "place":
        return False
    holder, _, name = path.partition(".")
    place = next(p for p in cell.project.cell.holder(holder).places if p.name == name)
    against = place.holding + sum(
        p.friction * p.mass * 9.81 for p in cell.project.product.parts if p.name == item
    )
    return against >= cell.project.cell.gripper_of(arm).force


def _size_deviation(cell: TrueCell, grasp: Grasp) -> float:
    """How much thicker than drawn a held shaft is [m]."""
    names = {p.name for p in cell.project.product.parts}
    if grasp.item not in names or len(grasp.features) != 1:
        return 0.0
    feature = cell.project.product.part(grasp.item).feature(grasp.features[0])
    if feature.diameter is None:
        return 0.0
    return cell.draws_of(grasp.item).diameter(grasp.item, feature) - feature.diameter
