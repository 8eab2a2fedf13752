"""Which pairs may touch, and why: from mates, places, tools, grasps and touches. Nothing is read from the
chart but what each hand does when, and the replay has checked that."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from handfast.model.element import Element
from handfast.model.mate import FeaturePair, Mate
from handfast.model.product import Product
from handfast.model.project import Project
from handfast.proof.bit_corridor import BitCorridor
from handfast.proof.corridor import Always, Corridor, PlaceCorridor
from handfast.proof.mate_corridor import mate_corridor
from handfast.proof.squeeze import SqueezeCorridor, squeeze_of
from handfast.proof.tolerances import PAD_OVERLAP, SKIN
from handfast.proof.touch_corridor import TouchCorridor
from handfast.standards.limits_and_fits import clearance
from handfast.standards.threads import coarse_thread


@dataclass(frozen=True)
class Allowance:
    """`a`, drawn in by skin [m] and set back by the corridor's relief, has to be clear of `b`; reason: as in
    Contact."""

    a: str
    b: str
    reason: str
    skin: float
    corridor: Corridor

    @property
    def touching(self) -> float:
        """Gap [m] of the pair, drawn in or set back, up to which it is in contact: surfaces within SKIN."""
        return max(self.skin, SKIN) + SKIN


Allowed = Mapping[frozenset[str], tuple[Allowance, ...]]


def by_pair(
    allowances: Iterable[Allowance], beside: Allowed | None = None
) -> dict[frozenset[str], tuple[Allowance, ...]]:
    """The allowances of each pair of bodies, after those that it has already."""
    out: dict[frozenset[str], tuple[Allowance, ...]] = dict(beside or {})
    for allowance in allowances:
        key = frozenset((allowance.a, allowance.b))
        out[key] = (*out.get(key, ()), allowance)
    return out


def lasting(project: Project) -> list[Allowance]:
    """What holds for the whole chart, wherever its corridor says so."""
    return [*_mates(project.product), *_places(project), *_bits(project)]


def gripped(arm: str, item: str) -> list[Allowance]:
    """Between the fingers of a hand and what they close on, hold or let go."""
    fingers = (f"{arm}.upper_finger", f"{arm}.lower_finger")
    return [Allowance(finger, item, "grasp", PAD_OVERLAP, Always()) for finger in fingers]


def touching(product: Product, element: Element) -> list[Allowance]:
    """Between the held and the touched part of a locate element."""
    touch = element.touch
    if touch is None or element.kind != "locate":
        return []
    return [Allowance(touch.held, touch.part, "touch", 0.0, TouchCorridor(product, touch))]


def _mates(product: Product) -> list[Allowance]:
    out = []
    for mate in product.mates:
        retained = (other.part for other in product.mates if other.held_until == mate.name)
        fixed = (pair.fixed_part for pair in mate.pairs)
        line = mate_corridor(product, mate)
        for other in dict.fromkeys((mate.into, *fixed, *mate.clamps, *retained)):
            squeeze = squeeze_of(product, mate, other)
            if other == mate.part:
                continue
            if squeeze > 0:
                out.append(Allowance(mate.part, other, "squeeze", SKIN, SqueezeCorridor(line, squeeze)))
            else:
                skin = SKIN + _overlap(product, mate, other)
                out.append(Allowance(mate.part, other, "mate", skin, line))
    return out


def _overlap(product: Product, mate: Mate, other: str) -> float:
    """Overlap [m] that a mate has by design: a thread in its hole, an interference fit."""
    return max(
        (_pair_overlap(product, mate, pair) for pair in mate.pairs if pair.fixed_part == other), default=0.0
    )


def _pair_overlap(product: Product, mate: Mate, pair: FeaturePair) -> float:
    moving, fixed = (
        product.part(mate.part).feature(pair.moving),
        product.part(pair.fixed_part).feature(pair.fixed),
    )
    if moving.kind == fixed.kind == "thread" and moving.thread:
        thread = coarse_thread(moving.thread)
        return (thread.diameter - thread.minor_diameter) / 2
    hole, shaft = (moving, fixed) if moving.kind == "hole" else (fixed, moving)
    if (hole.kind, shaft.kind) == ("hole", "shaft") and hole.fit and shaft.fit and hole.diameter:
        return max(-clearance(hole.diameter, hole.fit, shaft.fit).lower / 2, 0.0)
    return 0.0


def _places(project: Project) -> list[Allowance]:
    """Each part and tool with the place it lies in, and with every place of a set-down."""
    out = []
    items = [*(part.name for part in project.product.parts), *(tool.name for tool in project.cell.tools)]
    for holder in project.cell.holders:
        for place in holder.places:
            pose = holder.pose.matrix @ place.pose.matrix
            for item in items if holder.kind == "set-down" else [place.holds, place.takes]:
                if item is not None:
                    out.append(
                        Allowance(
                            item,
                            holder.name,
                            "place",
                            SKIN,
                            PlaceCorridor(item, place.free[0], place.slack_angle, pose),
                        )
                    )
    return out


def _bits(project: Project) -> list[Allowance]:
    out = []
    for tool in project.cell.tools:
        for part in screws_of(project.product, tool.threads):
            for socket in project.product.part(part).features:
                if socket.kind == "hole":
                    bit, hole, depth = tool.bit.matrix, socket.frame.matrix, socket.length or 0.0
                    corridor = BitCorridor(tool.name, part, bit, hole, depth)
                    out.append(Allowance(tool.name, part, "bit", 0.0, corridor))
    return out


def screws_of(product: Product, threads: tuple[str, ...]) -> list[str]:
    """The parts of screw mates whose thread is one of those."""
    out = []
    for mate in product.mates:
        feature = product.part(mate.part).feature(mate.pairs[0].moving)
        if mate.kind == "screw" and feature.thread in threads:
            out.append(mate.part)
    return list(dict.fromkeys(out))
