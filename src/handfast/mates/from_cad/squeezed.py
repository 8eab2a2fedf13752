"""Sealing rings that a part squeezes when it goes home: drawn round, they stand out past its face."""

from __future__ import annotations

import numpy as np

from handfast.geometry.cad.drawn_feature import pose_of
from handfast.mates.from_cad.chosen_features import ChosenFeatures
from handfast.mates.from_cad.contacts import PARALLEL
from handfast.mates.from_cad.placed import Placed
from handfast.model.feature import Feature
from handfast.model.mate import FeaturePair
from handfast.spatial import se3
from handfast.spatial.se3 import Array

_LEAST, _MOST = 20e-6, 0.5  # how deep [m], and as a share of the ring's section
_SURE = 0.95


def squeezes(
    parts: tuple[Placed, ...], part: int, left: frozenset[int], chosen: ChosenFeatures
) -> tuple[FeaturePair, ...]:
    """One pair for each ring among the parts `left` that a face of the part cuts into. The face is plain:
    where the ring bears on it becomes a feature of its own."""
    pairs = []
    for other in sorted(left):
        for ring in parts[other].features:
            if ring.feature.kind == "ring":
                pairs += _with(parts, part, other, ring.feature.name, chosen)
    return tuple(pairs)


def _with(
    parts: tuple[Placed, ...], part: int, other: int, ring: str, chosen: ChosenFeatures
) -> list[FeaturePair]:
    drawn = parts[other].feature(ring)
    inner, section = drawn.feature.diameter or 0.0, drawn.feature.length or 0.0
    for end, pose in enumerate(drawn.ends):
        T_part_ring = se3.inverse(parts[part].T_assembly_part) @ parts[other].T_assembly_part @ pose.matrix
        for d in parts[part].features:
            deep = _deep(d.feature, T_part_ring)
            if _LEAST < deep < _MOST * section:
                z = T_part_ring[:3, 2]
                land = pose_of(T_part_ring[:3, 3] - deep * z, z)
                feature = Feature(f"land_{1e3 * inner:.3g}", "groove", land, diameter=inner + section)
                why = f"where {parts[other].name} bears: it is drawn {1e3 * deep:.2g} mm into this face"
                moving, fixed = chosen.add(part, feature, _SURE, why), chosen.use(other, ring, end)
                return [FeaturePair(moving, parts[other].name, fixed, round(-deep, 9))]
    return []


def _deep(face: Feature, T_part_ring: Array) -> float:
    """How far [m] the side of a ring stands out past a face that looks at it; -inf if it does not."""
    T = face.frame.matrix
    if face.kind != "face" or face.size is None or float(T[:3, 2] @ T_part_ring[:3, 2]) > -PARALLEL:
        return -np.inf
    away = T_part_ring[:3, 3] - T[:3, 3]
    beside = any(abs(float(away @ T[:3, k])) > face.size[k] / 2 for k in (0, 1))
    return -np.inf if beside else -float(away @ T[:3, 2])
