"""Grasps of an item: flat pads on opposing faces, flat and V pads on cylinders."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache

import numpy as np

from handfast.model.feature import Feature
from handfast.model.grasp import Grasp
from handfast.model.gripper import FingerZone, Gripper
from handfast.spatial import se3
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import Array

_EDGE = 0.001  # the fingertips stay this far from the far edge of what they hold [m]
_LEAST = 0.002  # a pad bears on no less of it than this, and covers a shaft by this much [m]
_STEADY = 0.004  # where a longer pad would do, a shorter one hardly keeps a shaft from tilting [m]
_ROLLS = 12
_X, _Y, _Z = np.eye(3)
_ROLLED = [se3.rotation(_Z, roll) for roll in np.arange(_ROLLS) * 2 * np.pi / _ROLLS]
_AGAINST, _SIDEWAYS = se3.rotation(_X, np.pi), se3.rotation(_Y, np.pi / 2)


@lru_cache(maxsize=256)
def grasps(
    gripper: Gripper, item: str, features: tuple[Feature, ...], mass: float, friction: float
) -> tuple[Grasp, ...]:
    """Every grasp of an item: of each feature those in V pads first, then those with more of the pad on it.

    Cylinders are held along the fingers (the hand comes from the tip) and across them; opposing faces between
    flat pads, the hand coming from any side. Orbits are sampled in twelve steps. mass [kg]; friction: of the
    item. Features that must not be gripped give none.
    """
    return tuple(replace(g, item=item) for g in _of_any(gripper, features, mass, friction))


@lru_cache(maxsize=256)
def _of_any(
    gripper: Gripper, features: tuple[Feature, ...], mass: float, friction: float, item: str = ""
) -> tuple[Grasp, ...]:
    """The same of whatever has these features: parts of one drawing are worked out once."""
    features = tuple(f for f in features if f.grip)
    found: list[Grasp] = []
    for feature in features:
        if (
            feature.kind in ("shaft", "thread")
            and feature.diameter
            and feature.length
            and not _internal(feature)
        ):
            found += _on_cylinder(gripper, item, feature, friction)
    for a, b in _opposing(features):
        found += _on_faces(gripper, item, a, b, friction)
    return tuple(g for g in found if g.slip_force > 2 * 9.81 * mass)


def grip_widths(features: tuple[Feature, ...]) -> list[float]:
    """Widths [m] at which an item could be held by jaws that open far enough."""
    features = tuple(f for f in features if f.grip)
    across = [
        f.diameter for f in features if f.kind in ("shaft", "thread") and f.diameter and not _internal(f)
    ]
    faces = [
        abs((b.frame.matrix[:3, 3] - a.frame.matrix[:3, 3]) @ a.frame.matrix[:3, 2])
        for a, b in _opposing(features)
    ]
    return sorted([*across, *(float(w) for w in faces)])


def _internal(feature: Feature) -> bool:
    return feature.kind == "thread" and feature.internal


def _on_cylinder(gripper: Gripper, item: str, feature: Feature, friction: float) -> Iterator[Grasp]:
    width = feature.diameter or 0.0
    if not gripper.opening[0] <= width < gripper.opening[1]:
        return
    frame = feature.frame.matrix
    for zone in sorted(gripper.zones, key=lambda z: z.kind != "V"):
        if zone.kind == "V" and not zone.min_diameter <= width <= zone.max_diameter:
            continue
        for share in (1.0, 0.6, 0.35):
            if zone.kind == "flat" or zone.groove == "along":
                overlap = min((feature.length or 0.0) - _EDGE, zone.end) * share
                if share < 0.5 and overlap - zone.start < _STEADY - 1e-9:
                    continue
                # A thin ring offers less than a pad should bear on: then half of it will do.
                if overlap - zone.start < min(_LEAST, 0.49 * (feature.length or 0.0)):
                    continue
                T_feature_tip = se3.translation(0, 0, -overlap)
                for rolled in _ROLLED:
                    # Hand against the tip: grip z is the shaft's -z.
                    T_feature_grip = T_feature_tip @ rolled @ _AGAINST
                    yield _grasp(
                        gripper,
                        item,
                        (feature.name,),
                        frame @ T_feature_grip,
                        width,
                        zone,
                        "along",
                        friction,
                        overlap - zone.start,
                        (overlap + zone.start) / 2,
                    )
        if zone.kind == "flat" or zone.groove == "across":
            yield from _across(gripper, item, feature, zone, friction)


def _across(
    gripper: Gripper, item: str, feature: Feature, zone: FingerZone, friction: float
) -> Iterator[Grasp]:
    width, half = feature.diameter or 0.0, gripper.finger_size[0] / 2
    # Fingertips past the axis, so that the pads cover the diameter.
    depth = float(np.clip(width / 2 + _LEAST, zone.start + _EDGE, zone.end))
    back = max((feature.length or 0.0) / 2, half)
    T_feature_axis, T_tip_grip = se3.translation(0, 0, -back), se3.translation(0, 0, depth)
    for rolled in _ROLLED:
        for turned in (_ROLLED[0], _ROLLED[_ROLLS // 2]):
            # Shaft axis along grip x, the hand coming from the side.
            T_feature_grip = T_feature_axis @ rolled @ _SIDEWAYS @ turned @ T_tip_grip
            yield _grasp(
                gripper,
                item,
                (feature.name,),
                feature.frame.matrix @ T_feature_grip,
                width,
                zone,
                "across",
                friction,
                2 * half,
                depth,
            )


def _opposing(features: tuple[Feature, ...]) -> Iterator[tuple[Feature, Feature]]:
    faces = [f for f in features if f.kind == "face" and f.size]
    for i, a in enumerate(faces):
        for b in faces[i + 1 :]:
            z = a.frame.matrix[:3, 2]
            if z @ b.frame.matrix[:3, 2] > -0.9999:
                continue
            across = b.frame.matrix[:3, 3] - a.frame.matrix[:3, 3]
            # They look away from each other with material between, and lie opposite each other.
            aside = across - (across @ z) * z
            if across @ z < 0 and np.linalg.norm(aside) < min(*(a.size or (0, 0)), *(b.size or (0, 0))) / 2:
                yield a, b


def _on_faces(gripper: Gripper, item: str, a: Feature, b: Feature, friction: float) -> Iterator[Grasp]:
    Ta, Tb = a.frame.matrix, b.frame.matrix
    width = float(abs((Tb[:3, 3] - Ta[:3, 3]) @ Ta[:3, 2]))
    if not gripper.opening[0] <= width < gripper.opening[1]:
        return
    middle = (Ta[:3, 3] + Tb[:3, 3]) / 2
    # Where both faces are, along the x and y of the first; the second may lie turned and a little aside.
    theirs = np.array(b.size) if abs(Ta[:3, 0] @ Tb[:3, 0]) > np.sqrt(0.5) else np.array(b.size)[::-1]
    size = np.minimum(np.array(a.size), theirs) - np.abs(Ta[:3, :2].T @ (Tb[:3, 3] - Ta[:3, 3]))
    for zone in gripper.zones:
        if zone.kind != "flat":
            continue
        for y_sign in (1.0, -1.0):
            for angle, extent in (
                (0.0, size[0]),
                (np.pi / 2, size[1]),
                (np.pi, size[0]),
                (-np.pi / 2, size[1]),
            ):
                # The hand comes along +-x or +-y of the face; grip y is the face normal.
                approach = np.cos(angle) * Ta[:3, 0] + np.sin(angle) * Ta[:3, 1]
                y = y_sign * Ta[:3, 2]
                rotation = np.column_stack([np.cross(y, approach), y, approach])
                overlap = min(extent - _EDGE, zone.end)
                if overlap - zone.start < _LEAST:
                    continue
                T_item_grip = se3.pose(rotation, middle + approach * (overlap - extent / 2))
                yield _grasp(
                    gripper,
                    item,
                    (a.name, b.name),
                    T_item_grip,
                    width,
                    zone,
                    "faces",
                    friction,
                    overlap - zone.start,
                    (overlap + zone.start) / 2,
                )


def _grasp(
    gripper: Gripper,
    item: str,
    names: tuple[str, ...],
    T_item_grip: Array,
    width: float,
    zone: FingerZone,
    how: str,
    friction: float,
    overlap: float,
    middle: float,
) -> Grasp:
    """overlap: length over which the pads bear; middle: how far its middle lies back from the tips [m].

    Slip limits: Coulomb friction at two pads; torque of an even line of pressure as long as the overlap,
    whose mean arm is a quarter of it.
    """
    mu = min(gripper.friction, 2 * friction)
    # A V pad of 90 deg bears on two flanks, each with 1/sqrt 2 of the force.
    slip = mu * gripper.force * (2 if zone.kind == "flat" else 4 / np.sqrt(2))
    closed = {
        ("V", "along"): (True, True, False, True, True, False),
        ("V", "across"): (False, True, True, False, True, True),
        ("flat", "along"): (False, True, False, True, False, False),
        ("flat", "across"): (False, True, False, False, False, True),
        ("flat", "faces"): (False, True, False, True, False, True),
    }[(zone.kind, how)]
    return Grasp(
        gripper=gripper.name,
        item=item,
        T_grip_part=Pose.from_matrix(se3.inverse(T_item_grip)),
        width=width,
        features=names,
        zone=zone.name,
        closed=closed,
        slip_force=float(slip),
        slip_torque=float(slip * overlap / 4),
        about=(0.0, 0.0, -middle),
    )
