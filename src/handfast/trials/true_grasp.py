"""What closing jaws do to what is between them."""

from __future__ import annotations

import numpy as np

from handfast.execution.cell import ObstructedError
from handfast.model.grasp import Grasp
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.trials.true_cell import TrueCell
from handfast.trials.true_jaws import Between, T_jaw_from_world, between, hangs_fast, stands_at

_MEANT = 0.06  # jaws that close on nothing were meant for what lies this near, if anything does [m]


def close_jaws(cell: TrueCell, arm: str, found: Between | None, force: float) -> float:
    """The jaws close on what lies between them: the width they come to [m], the least opening if they catch
    nothing.

    Closed freedoms of the part go to zero in the real jaw frame, free ones keep the part where it was in the
    world. found: what the open jaws stand around (`nearest`); force [N]: with which they press. What they
    hold by an edge alone, or too weakly for its weight, slips out when the hand goes on (`lift`). Jaws that
    hold something already stay as they are. Raises ObstructedError where a finger stands on the part.
    """
    hand, gripper = cell.hands[arm], cell.project.cell.gripper_of(arm)
    if hand.holds is not None:
        return hand.width
    hand.force = force
    if found is not None:
        stands_on(found, arm)
    if found is None or found.meets == "beside":
        hand.width = gripper.opening[0]
        return hand.width
    hand.slips = _why_it_slips(cell, arm, found)
    _hold(cell, arm, found)
    hand.width = stands_at(found, gripper) + _size_deviation(cell, found.grasp)
    return hand.width


def nearest(cell: TrueCell, arm: str, grasps: tuple[Grasp, ...]) -> Between | None:
    """Of all that these jaws could hold what lies nearest to a grasp of it, those they would pass last; None
    where nothing lies near."""
    name = cell.project.cell.gripper_of(arm).name
    able = [g for g in grasps if g.gripper == name and g.item in cell.items]
    jaws = T_jaw_from_world(cell, arm) if able else None
    near = [b for b in (between(cell, arm, g, jaws) for g in able) if b.away < _MEANT]
    return min(near, key=lambda b: (b.meets == "beside", _cost(b)), default=None)


def stands_on(found: Between, arm: str) -> None:
    """Raises ObstructedError where a finger of the open jaws stands on the part."""
    if found.meets == "finger":
        raise ObstructedError(
            f"a finger of the {arm} hand came down on {found.grasp.item}, which lies "
            f"{abs(found.off[1]) * 1e3:.1f} mm beside the middle of the jaws"
        )


def lift(cell: TrueCell, arm: str) -> str:
    """What the hand held too weakly stays behind as the hand goes on: which item that is, "" if none."""
    hand = cell.hands[arm]
    if not hand.slips or hand.holds is None:
        return ""
    item, hand.slips = hand.holds, ""
    cell.let_go(arm)
    hand.width = cell.project.cell.gripper_of(arm).opening[0]
    return item


def slide(cell: TrueCell, arm: str, way: Array) -> None:
    """What the hand holds slides between the pads, (3,) [m] in the world."""
    hand = cell.hands[arm]
    if hand.holds is not None and cell.items[hand.holds].parent == f"hand.{arm}":
        T_world_item = se3.translation(*way) @ cell.T_world(hand.holds)
        cell.attach(hand.holds, f"hand.{arm}", se3.inverse(cell.T_world_grip(arm)) @ T_world_item)


def _cost(found: Between) -> float:
    """How far from as it should lie: 4 mm aside and an eighth of a turn alike."""
    return float(max(found.away / 4e-3, np.abs(found.turned).max() / 0.12))


def _why_it_slips(cell: TrueCell, arm: str, found: Between) -> str:
    item = found.grasp.item
    if found.meets in ("turned", "land"):
        return f"the jaws caught {item} by an edge"
    return "" if hangs_fast(cell, arm, found, cell.hands[arm].force) else f"{item} is too heavy for the grip"


def _hold(cell: TrueCell, arm: str, found: Between) -> None:
    grasp, eta, hand = found.grasp, found.eta, cell.hands[arm]
    for other in cell.hands.values():
        if other.holds == grasp.item:  # the giving hand yields
            other.holds, other.grasp, other.slips = None, None, ""
    left = cell.draws.deviation(f"grasp.{grasp.gripper}.free", f"{hand.stop}/{grasp.item}")
    free = np.array([0.0 if closed else 1.0 for closed in grasp.closed])
    # Held fast by its place: the hand bends, the part does not move. By an edge: nothing is set.
    if _stays(cell, arm, grasp.item) or hand.slips:
        left, free = np.eye(4), np.ones(6)
    T_grip_middle = se3.translation(*grasp.about)  # the part turns about what the pads close on
    T_middle_part = se3.inverse(T_grip_middle) @ grasp.T_grip_part.matrix
    twisted = se3.inverse(T_grip_middle) @ se3.exp(eta + se3.log(left)) @ T_grip_middle
    slid = se3.exp(free * se3.log(twisted))
    T_grip_jaw = cell.T_grip_jaw(arm)
    cell.attach(grasp.item, f"hand.{arm}", T_grip_jaw @ T_grip_middle @ slid @ T_middle_part)
    hand.holds, hand.grasp = grasp.item, grasp


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
    return against >= cell.hands[arm].force


def _size_deviation(cell: TrueCell, grasp: Grasp) -> float:
    """How much thicker than drawn a held shaft is [m]."""
    names = {p.name for p in cell.project.product.parts}
    if grasp.item not in names or len(grasp.features) != 1:
        return 0.0
    feature = cell.project.product.part(grasp.item).feature(grasp.features[0])
    if feature.diameter is None:
        return 0.0
    return cell.draws_of(grasp.item).diameter(grasp.item, feature) - feature.diameter
