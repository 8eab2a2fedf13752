"""Where a part goes: its pose in the part it is joined to, from the feature pairs of the mate."""

from __future__ import annotations

import numpy as np

from handfast.model.mate import FeaturePair, Mate
from handfast.model.product import Product
from handfast.spatial import se3
from handfast.spatial.se3 import Array

_Z = np.array([0.0, 0.0, 1.0])


class HomeError(ValueError):
    """A mate whose pairs do not determine a home pose: the message says which and why."""


def assembled_poses(product: Product) -> dict[str, Array]:
    """T_base_part (4, 4) of every part when all mates are done, parts named by part.

    Raises HomeError for a mate whose fixed part has no pose yet in the order of the file.
    """
    poses: dict[str, Array] = {product.base: np.eye(4)}
    waiting = list(product.mates)
    while waiting:
        ready = [m for m in waiting if all(p.fixed_part in poses for p in m.pairs)]
        if not ready:
            names = ", ".join(m.name for m in waiting)
            raise HomeError(f"no order of mates gives every part a place; these wait for each other: {names}")
        for mate in ready:
            poses[mate.part] = home_in(product, mate, poses)
            waiting.remove(mate)
    return poses


def home_in(product: Product, mate: Mate, poses: dict[str, Array]) -> Array:
    """Home pose of the mate's part in the frame in which `poses` gives its fixed parts, (4, 4).

    The first pair aligns the z axes at the pair's depth. The roll about them comes from the second pair (its
    origin is turned into the half plane where its fixed counterpart lies), or else from the frames' own x
    axes; from there a gear on that axis is turned on until its teeth stand in the gaps of the gear that it
    meshes with, however that one stands.
    """
    first = mate.pairs[0]
    seated = (
        _fixed_frame(product, first, poses)
        @ se3.translation(0, 0, first.depth)
        @ se3.inverse(product.part(mate.part).feature(first.moving).frame.matrix)
    )
    if len(mate.pairs) < 2:
        return seated
    axis = _fixed_frame(product, first, poses)
    second = mate.pairs[1]
    wanted = se3.inverse(axis) @ _fixed_frame(product, second, poses)
    present = se3.inverse(axis) @ seated @ product.part(mate.part).feature(second.moving).frame.matrix
    have, want = present[:2, 3], wanted[:2, 3]
    if min(np.linalg.norm(have), np.linalg.norm(want)) < 1e-6:
        return _in_mesh(product, mate, poses, seated, axis)
    angle = float(np.arctan2(want[1], want[0]) - np.arctan2(have[1], have[0]))
    return axis @ se3.rotation(_Z, angle) @ se3.inverse(axis) @ seated


def _in_mesh(product: Product, mate: Mate, poses: dict[str, Array], seated: Array, axis: Array) -> Array:
    """The seated part turned about `axis` by the least that brings its teeth into the gaps of the first gear
    that it is paired with."""
    for pair in mate.pairs[1:]:
        own = product.part(mate.part).feature(pair.moving)
        other = product.part(pair.fixed_part).feature(pair.fixed)
        if own.kind == other.kind == "gear" and own.teeth and other.teeth:
            T_own = own.frame.matrix
            if np.linalg.norm((se3.inverse(axis) @ seated @ T_own)[:2, 3]) > 1e-6:
                return seated  # it does not turn about its own axis
            T = se3.inverse(_fixed_frame(product, pair, poses)) @ seated @ T_own
            turn = _turn_into_mesh(T, other.teeth, own.teeth)
            return seated @ T_own @ se3.rotation(_Z, turn) @ se3.inverse(T_own)
    return seated


def _turn_into_mesh(T_fixed_moving: Array, fixed: int, moving: int) -> float:
    """Least turn [rad] of a gear about its z after which, on the line of centres, it has a gap where the
    other has a tooth.

    fixed, moving: numbers of teeth; the x axes run through the middle of a tooth. By how much the line of
    centres runs past a tooth, in pitches and on either gear, adds up to half a pitch in mesh.
    """
    centres = float(np.arctan2(T_fixed_moving[1, 3], T_fixed_moving[0, 3]))
    back = centres + np.pi - float(np.arctan2(T_fixed_moving[1, 0], T_fixed_moving[0, 0]))
    past = (fixed * centres + moving * back) / (2 * np.pi) - 0.5
    return float((past - np.round(past)) * 2 * np.pi / moving)


def _fixed_frame(product: Product, pair: FeaturePair, poses: dict[str, Array]) -> Array:
    return poses[pair.fixed_part] @ product.part(pair.fixed_part).feature(pair.fixed).frame.matrix


def motion_axis(product: Product, mate: Mate) -> Array:
    """Direction, in the part's own frame, in which the part travels as it goes home, unit (3,).

    A shaft or screw travels along its own z (out of its tip); a part with a hole travels against the hole's
    z, because the shaft goes into the hole.
    """
    feature = product.part(mate.part).feature(mate.pairs[0].moving)
    z = feature.frame.matrix[:3, 2]
    outward = feature.kind in ("shaft", "face", "gear", "ring") or (
        feature.kind == "thread" and not feature.internal
    )
    return np.asarray(z if outward else -z)
