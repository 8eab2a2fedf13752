"""A sealing ring between two parts. Everything is taken as rigid here, so a ring drawn before it is squeezed
cuts into what presses on it; how deep follows from the mate alone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.model.feature import Feature
from handfast.model.mate import FeaturePair, Mate
from handfast.model.product import Product
from handfast.proof.corridor import PoseOf
from handfast.proof.mate_corridor import MateCorridor, goes_over
from handfast.proof.stl import Array
from handfast.proof.tolerances import POSITION, SKIN, SQUEEZE_SHARE


@dataclass(frozen=True)
class SqueezeCorridor:
    """The line of a mate that squeezes a ring: the part is set back along it by as far as the squeeze [m]
    goes there."""

    line: MateCorridor
    squeeze: float

    def relief(self, pose_of: PoseOf, reach: float, turn: float) -> Array | None:
        """Back against the way home."""
        if self.line.relief(pose_of, reach, turn) is None:
            return None
        deep = min(max(self.squeeze - self.line.offset(pose_of)[2], 0.0), self.squeeze + POSITION)
        return np.asarray(-self.line.inward * self.line.axis(pose_of) * deep)


def squeeze_of(product: Product, mate: Mate, other: str) -> float:
    """How deep [m] the ring of a mate between its part and another is in what it touches, at home; 0 without
    a ring. Not more than SQUEEZE_SHARE of the ring's height: beyond that the drawing is wrong."""
    pairs = [pair for pair in mate.pairs if pair.fixed_part == other]
    return max((_pair_squeeze(product, mate, pair) for pair in pairs), default=0.0)


def _pair_squeeze(product: Product, mate: Mate, pair: FeaturePair) -> float:
    moving = product.part(mate.part).feature(pair.moving)
    fixed = product.part(pair.fixed_part).feature(pair.fixed)
    if moving.kind == "ring" and fixed.kind != "ring":
        ring, deep = moving, pair.depth - _floor(fixed)
    elif fixed.kind == "ring" and moving.kind != "ring":
        ring, deep = fixed, -pair.depth - _floor(moving)
    else:
        return 0.0
    return deep if SKIN < deep <= SQUEEZE_SHARE * (ring.length or 0.0) else 0.0


def _floor(feature: Feature) -> float:
    """How far [m] the bottom of a groove lies behind its mouth; a plain face is its own."""
    return (feature.length or 0.0) if goes_over(feature) else 0.0


def rings_taken_as_rigid(product: Product) -> list[str]:
    """For the proof to state: each ring that is cut into by design, by what and how deep."""
    out = []
    for mate in product.mates:
        for other in dict.fromkeys(pair.fixed_part for pair in mate.pairs):
            deep = squeeze_of(product, mate, other)
            if deep > 0:
                ring, cuts = (other, mate.part) if _is_ring(product, other) else (mate.part, other)
                out.append(
                    f"{ring} is taken as rigid, as drawn; {cuts} may cut into it by its squeeze, "
                    f"{1e3 * deep:.2f} mm (mate {mate.name!r})"
                )
    return out


def _is_ring(product: Product, part: str) -> bool:
    return any(feature.kind == "ring" for feature in product.part(part).features)
