"""A grasp as found: where the item is in the hand, and whether the pads lie on it."""

from __future__ import annotations

import math

import numpy as np

from handfast.model.element import Element
from handfast.model.grasp import Grasp
from handfast.model.gripper import FingerZone, Gripper
from handfast.model.proof import Violation, ViolationKind
from handfast.proof.bodies import Body, finger_piece
from handfast.proof.exact import apart_by, distance
from handfast.proof.motion_checks import line_of
from handfast.proof.piece import primitive
from handfast.proof.stl import Array
from handfast.proof.tolerances import ANGLE, PAD_GAP, POSITION, START
from handfast.spatial import se3

PAD = 0.02e-3
"""Thickness [m] of the slab that stands for a pad's face."""


def check_grasp(
    element: Element, grasp: Grasp, gripper: Gripper, item: Body, T_grip_item: Array
) -> list[Violation]:
    """What is wrong with a grasp. T_grip_item: as the replay finds it when the jaws have closed."""
    found = []
    time = element.start_s + element.duration_s
    if grasp.gripper != gripper.name or grasp.item != element.object:
        text = f"{line_of(element)}: its grasp is of {grasp.item!r} by {grasp.gripper!r}"
        found.append(_wrong(element, time, 0.0, text))
    off, turned = se3.distance(grasp.T_grip_part.matrix, T_grip_item)
    if off > POSITION or turned > ANGLE:
        text = (
            f"{line_of(element)}: {item.name!r} lies {1e3 * off:.3f} mm and {math.degrees(turned):.2f} deg "
            f"off the grasp that the chart states"
        )
        found.append(_wrong(element, time, off, text))
    low, high = gripper.opening
    if not low - START <= grasp.width <= high + START:
        text = (
            f"{line_of(element)}: closes to {1e3 * grasp.width:.2f} mm; the jaws go from {1e3 * low:.2f} to "
            f"{1e3 * high:.2f} mm"
        )
        found.append(_wrong(element, time, max(low - grasp.width, grasp.width - high), text, "limit"))
    zone = next((z for z in gripper.zones if z.name == grasp.zone), None)
    if zone is None:
        zones = ", ".join(z.name for z in gripper.zones)
        text = f"{line_of(element)}: the finger has no zone {grasp.zone!r}; it has: {zones}"
        return [*found, _wrong(element, time, 0.0, text)]
    return found + _pads(element, grasp, gripper, zone, item, T_grip_item, time)


def _pads(
    element: Element,
    grasp: Grasp,
    gripper: Gripper,
    zone: FingerZone,
    item: Body,
    T_grip_item: Array,
    time: float,
) -> list[Violation]:
    """Both pads have to lie on the item, within the zone that the grasp names."""
    found = []
    for side, word in ((1, "upper"), (-1, "lower")):
        gap = pad_gap(gripper, zone, side, grasp.width, item, T_grip_item)
        if gap > PAD_GAP:
            text = (
                f"{line_of(element)}: the {word} pad (zone {zone.name!r}) closes {1e3 * gap:.2f} mm beside "
                f"{item.name!r}"
            )
            found.append(_wrong(element, time, gap, text))
        if _too_deep(gripper, side, grasp.width, item, T_grip_item):
            closed = f"closed to {1e3 * grasp.width:.2f} mm"
            text = f"{line_of(element)}: {closed}, the {word} finger cuts into {item.name!r}"
            found.append(_wrong(element, time, 0.0, text))
    return found


def pad_gap(
    gripper: Gripper, zone: FingerZone, side: int, width: float, item: Body, T_grip_item: Array
) -> float:
    """Distance [m] from the face of a pad, within a zone, to the item; zero or less where it presses on
    it."""
    placement = np.eye(4)
    placement[:3, 3] = (0.0, side * (width / 2 + PAD / 2), -(zone.start + zone.end) / 2)
    pad = primitive((gripper.finger_size[0], PAD, zone.end - zone.start), placement)
    return min(
        distance(pad.geometry, placement, piece.geometry, T_grip_item @ piece.T_body_shape)
        for piece in item.pieces
    )


def _too_deep(gripper: Gripper, side: int, width: float, item: Body, T_grip_item: Array) -> bool:
    """True if a finger set back by PAD_GAP still cuts into the item."""
    finger = finger_piece(gripper, side)
    pose = finger.T_body_shape.copy()
    pose[1, 3] += side * (width / 2 + PAD_GAP)
    return not all(
        apart_by(finger.geometry, pose, piece.geometry, T_grip_item @ piece.T_body_shape, 0.0)
        for piece in item.pieces
    )


def _wrong(
    element: Element, time: float, amount: float, text: str, kind: ViolationKind = "wrong grasp"
) -> Violation:
    return Violation(kind, element.number, time, amount, element.hand, element.object, text)
