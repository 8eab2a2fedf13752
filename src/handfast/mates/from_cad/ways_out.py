"""In which order the parts come off again, each in a straight line: read backwards, how they go together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.mates.from_cad.contacts import PARALLEL, Contact
from handfast.mates.from_cad.height_maps import HeightMaps, height_maps
from handfast.mates.from_cad.placed import Placed
from handfast.spatial.se3 import Array

PIXELS = 160
_DEEP = 0.06e-3  # material in the way thinner than that is drawing [m]
_FEW = 3  # rays that meet something by the facets of two equal circles


@dataclass(frozen=True, eq=False, slots=True)
class Removal:
    """One part taken off. direction: unit, in the assembly; None: nothing free was found, it is a guess;
    left: the parts that stay; barred_by: the parts taken off before that would be in its way."""

    part: int
    direction: Array | None
    left: frozenset[int]
    barred_by: frozenset[int] = frozenset()


def removals(parts: tuple[Placed, ...], found: tuple[Contact, ...], base: int) -> tuple[Removal, ...]:
    """All parts but the base, the first to come off first. Screws come first; a pin that holds two parts
    together comes after the part it locates; else the part that the file names last."""
    sight = _Sight(parts)
    left = set(range(len(parts)))
    out: list[Removal] = []
    while len(left) > 1:
        out.append(_next(parts, found, left, base, sight))
        left.discard(out[-1].part)
    return tuple(out)


class _Sight:
    """Height maps by direction, made when first asked for."""

    def __init__(self, parts: tuple[Placed, ...]) -> None:
        self._bodies = [
            (p.graph.vertices @ p.T_assembly_part[:3, :3].T + p.T_assembly_part[:3, 3])[p.graph.triangles]
            for p in parts
        ]
        self._maps: list[tuple[Array, HeightMaps]] = []

    def rays_blocked(self, part: int, other: int, direction: Array) -> int:
        """How many rays of a part that moves that way meet the other."""
        maps, sign = self._of(direction)
        if sign > 0:
            low, high = maps.low[part], maps.high[other]
        else:
            low, high = -maps.high[part], -maps.low[other]
        present = np.isfinite(low) & np.isfinite(high)
        return int((high[present] > low[present] + _DEEP).sum())

    def size(self, part: int, direction: Array) -> int:
        return int(np.isfinite(self._of(direction)[0].low[part]).sum())

    def _of(self, direction: Array) -> tuple[HeightMaps, float]:
        for known, maps in self._maps:
            if abs(float(known @ direction)) > PARALLEL:
                return maps, float(np.sign(known @ direction))
        maps = height_maps(self._bodies, direction, PIXELS)
        self._maps.append((direction, maps))
        return maps, 1.0


def _next(
    parts: tuple[Placed, ...], found: tuple[Contact, ...], left: set[int], base: int, sight: _Sight
) -> Removal:
    ranked = sorted(left - {base}, key=lambda i: (_rank(parts[i], i, found, left), -i))
    # What would leave others hanging in the air comes off after them.
    carried = len(_reached(base, found, left))
    ranked.sort(key=lambda i: len(_reached(base, found, left - {i})) < carried - 1)
    for i in ranked:
        for direction in _directions(i, found, left):
            if _free(parts, i, direction, found, left, sight):
                gone = set(range(len(parts))) - left
                barred = {k for k in gone if not _free(parts, i, direction, found, {k}, sight)}
                return Removal(i, direction, frozenset(left - {i}), frozenset(barred))
    return Removal(ranked[0], None, frozenset(left - {ranked[0]}))


def _reached(base: int, found: tuple[Contact, ...], left: set[int]) -> set[int]:
    """Parts that hang together with the base."""
    seen, front = {base}, [base]
    while front:
        at = front.pop()
        for c in found:
            if at in (c.a, c.b) and c.other(at) in left and c.other(at) not in seen:
                seen.add(c.other(at))
                front.append(c.other(at))
    return seen


def _rank(part: Placed, index: int, found: tuple[Contact, ...], left: set[int]) -> int:
    touched = {
        c.other(index)
        for c in found
        if index in (c.a, c.b) and c.kind != "aligned" and c.other(index) in left
    }
    if part.is_a("screw"):
        return 0
    return 2 if part.is_a("pin") and len(touched) > 1 else 1


def _directions(part: int, found: tuple[Contact, ...], left: set[int]) -> list[Array]:
    """Both ways along the axes of its contacts, the most used first; then away from its faces."""
    votes: list[tuple[Array, float]] = []
    for c in found:
        if part in (c.a, c.b) and c.other(part) in left:
            away = c.axis if part == c.b else -c.axis
            weight = 0.5 if c.kind in ("face", "aligned") else 2.0
            # A hole's z looks inward, a face's outward: a part on a face comes off along the face's normal.
            outward = away if c.kind == "face" else -c.axis
            for direction, share in ((outward, weight), (-outward, weight / 2)):
                for k, (known, total) in enumerate(votes):
                    if float(known @ direction) > PARALLEL:
                        votes[k] = known, total + share
                        break
                else:
                    votes.append((direction, share))
    votes.sort(key=lambda v: -v[1])
    axes = [np.array(a, dtype=float) for a in ((0, 0, 1), (1, 0, 0), (0, 1, 0))]
    others = [s * a for a in axes for s in (1, -1)]
    return [d for d, _ in votes] + ([] if votes else others)


def _free(
    parts: tuple[Placed, ...],
    part: int,
    direction: Array,
    found: tuple[Contact, ...],
    left: set[int],
    sight: _Sight,
) -> bool:
    rays = 0
    for other in left - {part}:
        if _gives_way(parts, part, other, found, direction):
            continue
        rays += sight.rays_blocked(part, other, direction)
    return rays <= max(_FEW, 0.01 * sight.size(part, direction))


def _gives_way(
    parts: tuple[Placed, ...], part: int, other: int, found: tuple[Contact, ...], direction: Array
) -> bool:
    """Whether two parts share material on purpose: a thread, a soft ring; or one is pressed into the
    other."""
    if parts[part].is_a("o-ring") or parts[other].is_a("o-ring"):
        return parts[other].is_a("o-ring")
    between = [c for c in found if {c.a, c.b} == {part, other}]
    return any(
        (c.kind == "thread" or (c.kind == "round" and c.play < -1e-6))
        and abs(float(c.axis @ direction)) > PARALLEL
        for c in between
    )
