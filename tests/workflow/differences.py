"""A product that was begun from a drawing beside the one that was written by hand."""

from __future__ import annotations

import numpy as np

from handfast.mates.home import assembled_poses
from handfast.model.mate import FeaturePair, Mate
from handfast.model.product import Product


def differences(ours: Product, theirs: Product) -> set[str]:
    """What the product written by hand has and the generated one has not, or otherwise."""
    told = set()
    poses = assembled_poses(theirs)
    mine = {m.part: m for m in ours.mates}
    for mate in theirs.mates:
        other = mine.get(mate.part)
        if other is None:
            told.add(f"{mate.name} not found")
            continue
        if other.kind != mate.kind:
            told.add(f"{mate.name}: {other.kind}, by hand {mate.kind}")
        if other.into != mate.into:
            told.add(f"{mate.name}: into {other.into}, by hand {mate.into}")
        if set(other.clamps) != set(mate.clamps) or other.free_roll != mate.free_roll:
            told.add(f"{mate.name}: clamps or roll")
        for pair in mate.pairs:
            told |= _of_pair(ours, other, theirs, mate, pair, poses)
    return told


def _of_pair(
    ours: Product, other: Mate, theirs: Product, mate: Mate, pair: FeaturePair, poses: dict[str, np.ndarray]
) -> set[str]:
    ours_at = assembled_poses(ours)
    same = [
        p
        for p in other.pairs
        if p.fixed_part == pair.fixed_part
        and _one_axis(
            _world(ours, ours_at, p.fixed_part, p.fixed),
            _world(theirs, poses, pair.fixed_part, pair.fixed),
        )
    ]
    if not same:
        return {f"{mate.name}: pair {pair.moving} with {pair.fixed_part}.{pair.fixed} not found"}
    told = set()
    if pair.backlash and not same[0].backlash:
        told.add(f"{mate.name}: backlash not found")
    if abs(same[0].depth - pair.depth) > 1e-6:
        told.add(f"{mate.name}: depth of {pair.moving} {same[0].depth}, by hand {pair.depth}")
    for part, mine, hand in (
        (mate.part, same[0].moving, pair.moving), (pair.fixed_part, same[0].fixed, pair.fixed)
    ):  # fmt: skip
        a, b = ours.part(part).feature(mine), theirs.part(part).feature(hand)
        if a.kind != b.kind or a.thread != b.thread:
            told.add(f"{part}.{hand}: {a.kind} {a.thread}, by hand {b.kind} {b.thread}")
        if a.fit != b.fit:
            told.add(f"fit of {part}.{hand}: {a.fit}, by hand {b.fit}")
        if abs((a.diameter or 0) - (b.diameter or 0)) > 1e-6:
            told.add(f"diameter of {part}.{hand}: {a.diameter}, by hand {b.diameter}")
    return told


def _world(product: Product, poses: dict[str, np.ndarray], part: str, feature: str) -> np.ndarray:
    return np.asarray(poses[part] @ product.part(part).feature(feature).frame.matrix)


def _one_axis(A: np.ndarray, B: np.ndarray) -> bool:
    away = B[:3, 3] - A[:3, 3]
    aside = away - (away @ A[:3, 2]) * A[:3, 2]
    return bool(abs(abs(float(A[:3, 2] @ B[:3, 2])) - 1) < 1e-6 and np.linalg.norm(aside) < 1e-5)
