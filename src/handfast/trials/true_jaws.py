"""What lies between open jaws, and how they come upon it: geometry of pads and of the surfaces they close on.

A finger's pad is a rectangle: as wide as the finger, from its zone's start to its end back from the tip. What
it bears on is the rectangle of a face or the line along a shaft. Where the part lies beyond half of what the
jaws stand wider than it, a finger comes down on it. Where pad and surface do not overlap, the jaws pass it.
A shaft that lies beside the mouth of a V comes to lie on the land beside the groove. What they hold, they
hold by friction: two flat pads give 2 mu F before the part slips, four flanks of a V of 90 deg 4 mu F /
sqrt 2 (Coulomb; statics of the V), and against turning that force times the mean distance of the bearing's
points from its middle (even pressure). Pads are as wide and fingers as thick as the gripper says; how the V's
land stands to its groove follows from 90 deg and the largest cylinder it is made for.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from handfast.model.feature import Feature
from handfast.model.grasp import Grasp
from handfast.model.gripper import FingerZone, Gripper
from handfast.model.part import Part
from handfast.model.tool import Tool
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.trials.true_cell import TrueCell

_FALL = 9.80665  # [m/s2]
_TURNED = 0.12  # what is turned further against the pads is taken by its corners; own choice, no source [rad]
_WHOLE_PAD = FingerZone("whole", "flat", 0.0, math.inf)
Meets = Literal["between", "finger", "turned", "land", "beside"]
"""How jaws come upon a part: it lies between the pads; a finger comes down on it; it lies too much turned; it
lies beside the groove of a V; the pads pass it."""


@dataclass(frozen=True, eq=False, slots=True)
class Between:
    """off (3,) [m], turned (3,) [rad]: of what the pads close on, in the real jaw frame, as far as the jaws
    care how it is turned; against (3,): of that what stands it against the pads; eta (6,): twist of the item
    in that frame; bears (2,): how long pads and surface overlap along x and z of the jaws [m]."""

    grasp: Grasp
    off: Array
    turned: Array
    against: Array
    eta: Array
    bears: Array
    meets: Meets

    @property
    def away(self) -> float:
        """From where it should lie [m]."""
        return float(np.linalg.norm(self.off))


def between(cell: TrueCell, arm: str, grasp: Grasp, T_jaw_world: Array | None = None) -> Between:
    """How an item that this grasp is for stands to the open jaws of an arm. T_jaw_world (4, 4): where they
    are, if that has been worked out."""
    hand, gripper = cell.hands[arm], cell.project.cell.gripper_of(arm)
    jaws = T_jaw_from_world(cell, arm) if T_jaw_world is None else T_jaw_world
    T_jaw_item = jaws @ cell.T_world(grasp.item)
    found = T_jaw_item @ se3.inverse(grasp.T_grip_part.matrix)
    about = np.array(grasp.about)
    off = (found @ np.append(about, 1.0))[:3] - about
    eta = se3.log(found)
    turned = np.where(_round_about(cell, grasp), 0.0, eta[3:])
    against = turned * np.array([1.0, 0.0, 1.0])  # about the closing direction it lies as well between them
    zone = _zone(gripper, grasp)
    bears = _bears(cell, gripper, zone, grasp, T_jaw_item)
    wide = _wide(grasp, against, bears)
    room = (hand.width - wide) / 2
    meets: Meets = "between"
    if bears.min() < 0 or abs(off[1]) > room + gripper.finger_size[1] + wide:
        meets = "beside"
    elif abs(off[1]) > room:
        meets = "finger"
    elif np.abs(against).max() > _TURNED:
        meets = "turned"
    elif zone.kind == "V" and abs(off[0 if zone.groove == "along" else 2]) > half_mouth(zone):
        meets = "land"
    return Between(grasp, off, turned, against, eta, bears, meets)


def T_jaw_from_world(cell: TrueCell, arm: str) -> Array:
    """T_jaw_world of the real jaws (4, 4)."""
    return se3.inverse(cell.T_world_grip(arm) @ cell.T_grip_jaw(arm))


def _wide(grasp: Grasp, against: Array, bears: Array) -> float:
    """How wide jaws have to stand for it [m]: over its corners, where it is turned against the pads."""
    if np.abs(against).max() <= _TURNED:
        return grasp.width
    corners = float(np.maximum(bears, 0.0) @ np.abs(np.sin(against[[2, 0]])))
    return abs(grasp.width * math.cos(float(np.abs(against).max()))) + corners


def _zone(gripper: Gripper, grasp: Grasp) -> FingerZone:
    return next((z for z in gripper.zones if z.name == grasp.zone), _WHOLE_PAD)


def half_mouth(zone: FingerZone) -> float:
    """Half the width of a V's groove at the pad [m]: as wide as where its largest cylinder bears."""
    return zone.max_diameter / 2 / math.sqrt(2)


def stands_at(found: Between, gripper: Gripper) -> float:
    """How far apart the jaws come to stand [m], of a part that is drawn as thick as the grasp says."""
    wide = _wide(found.grasp, found.against, found.bears)
    if found.meets != "land":
        return wide
    # Between the lands the gap is the diameter; with it in both grooves, whose flanks stand at 45 deg, it is
    # sqrt 2 of the diameter less twice the depth of a groove, which is half as deep as its mouth is wide.
    return wide + max(2 * half_mouth(_zone(gripper, found.grasp)) - (math.sqrt(2) - 1) * wide, 0.0)


def grip_limits(cell: TrueCell, found: Between, force: float) -> tuple[float, float]:
    """Force [N] and torque about the closing direction [N m] at which the item slips in jaws that press with
    `force` [N]."""
    gripper = next(g for g in cell.project.cell.grippers if g.name == found.grasp.gripper)
    slip = slip_force(cell, found.grasp, gripper, force)
    return slip, slip * _mean_distance(found.bears)


def slip_force(cell: TrueCell, grasp: Grasp, gripper: Gripper, force: float) -> float:
    """Along the pads [N]."""
    pads = 2.0 if _zone(gripper, grasp).kind == "flat" else 4 / math.sqrt(2)
    of = next((p.friction for p in cell.project.product.parts if p.name == grasp.item), gripper.friction)
    # Pads grip better than metal on metal does: twice, as far as the pads go.
    return pads * force * min(gripper.friction, 2 * of)


def holds_at_most(cell: TrueCell, arm: str) -> float:
    """Force at which what the hand holds slips in its jaws [N]."""
    hand, gripper = cell.hands[arm], cell.project.cell.gripper_of(arm)
    return math.inf if hand.grasp is None else slip_force(cell, hand.grasp, gripper, hand.force)


def hangs_fast(cell: TrueCell, arm: str, found: Between, force: float) -> bool:
    """Whether the item stays where the jaws have it when they lift it: its weight inside the ellipse of force
    and torque (Howe and Cutkosky 1996, from memory)."""
    weight, centre = _weight(cell, found.grasp.item)
    T_world_jaw = cell.T_world_grip(arm) @ cell.T_grip_jaw(arm)
    T_jaw_item = se3.exp(found.eta) @ found.grasp.T_grip_part.matrix
    down = T_world_jaw[:3, :3].T @ np.array([0.0, 0.0, -weight])
    arm_of = (T_jaw_item @ np.append(centre, 1.0))[:3] - _bearing_middle(found)
    along = float(np.hypot(down[0], down[2]))
    about = abs(float(np.cross(arm_of, down)[1]))
    most, twist = grip_limits(cell, found, force)
    if most <= 0:
        return False
    return (along / most) ** 2 + (about / twist if twist > 0 else math.inf if about > 1e-9 else 0.0) ** 2 <= 1


def _bearing_middle(found: Between) -> Array:
    return np.array(found.grasp.about) + found.off


def _weight(cell: TrueCell, item: str) -> tuple[float, Array]:
    part: Part | None = next((p for p in cell.project.product.parts if p.name == item), None)
    if part is not None:
        return part.mass * _FALL, np.array(part.centre_of_mass)
    tool: Tool = cell.project.cell.tool(item)
    return tool.mass * _FALL, np.zeros(3)


def _mean_distance(sides: Array) -> float:
    """Of the points of a rectangle from its middle [m]."""
    x, z = (side * ((np.arange(8) + 0.5) / 8 - 0.5) for side in sides)
    return float(np.hypot(x[:, None], z[None, :]).mean())


def _bears(cell: TrueCell, gripper: Gripper, zone: FingerZone, grasp: Grasp, T_jaw_item: Array) -> Array:
    """How long pads and surface overlap along x and z (2,) [m]; below zero where they do not."""
    half = gripper.finger_size[0] / 2
    pad = np.array([[-half, half], [-min(zone.end, gripper.finger_size[2]), -zone.start]])
    own = _surface(cell, grasp)
    if own is None:  # nobody says what the pads close on: as planned
        at = np.array(grasp.about)[[0, 2]]
        spans = np.array([np.full(2, at[0]), np.full(2, at[1])])
    else:
        corners = [c @ T_jaw_item[:3, :3].T + T_jaw_item[:3, 3] for c in own]
        spans = np.array(
            [[max(c[:, i].min() for c in corners), min(c[:, i].max() for c in corners)] for i in (0, 2)]
        )
    return np.asarray(np.minimum(pad[:, 1], spans[:, 1]) - np.maximum(pad[:, 0], spans[:, 0]))


def _surface(cell: TrueCell, grasp: Grasp) -> list[Array] | None:
    """Of each feature between the pads its corners (n, 3) in the item: of a face, or the ends of a shaft."""
    features = {f.name: f for f in _features(cell, grasp.item)}
    out = []
    for name in grasp.features:
        feature = features.get(name)
        if feature is None:
            return None
        if feature.kind == "face" and feature.size is not None:
            x, y = feature.size[0] / 2, feature.size[1] / 2
            local = np.array([(a * x, b * y, 0.0) for a in (-1, 1) for b in (-1, 1)])
        elif feature.length is not None:
            local = np.array([(0.0, 0.0, 0.0), (0.0, 0.0, -feature.length)])
        else:
            return None
        T = feature.frame.matrix
        out.append(local @ T[:3, :3].T + T[:3, 3])
    return out or None


def _features(cell: TrueCell, item: str) -> tuple[Feature, ...]:
    part = next((p for p in cell.project.product.parts if p.name == item), None)
    return part.features if part is not None else cell.project.cell.tool(item).features


def _round_about(cell: TrueCell, grasp: Grasp) -> Array:
    """About which axes of the grip frame the jaws do not care how what they close on is turned (3,): about
    that of a shaft, if they leave that turn free."""
    round_about = np.array([False, False, grasp.symmetry == "spin"])
    features = {f.name: f for f in _features(cell, grasp.item)}
    if len(grasp.features) == 1 and grasp.features[0] in features:
        feature = features[grasp.features[0]]
        axis = np.abs((grasp.T_grip_part.matrix @ feature.frame.matrix)[:3, 2])
        free = ~np.array(grasp.closed[3:])
        round_about |= (axis > 1 - 1e-6) & free & (feature.kind == "shaft")
    return round_about
