"""In which order the parts come off again, each in a straight line: read backwards, how they go together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.mates.from_cad.contacts import PARALLEL, Contact
from handfast.mates.from_cad.drawn_groups import DrawnGroup, joined_to
from handfast.mates.from_cad.height_maps import HeightMaps, height_maps
from handfast.mates.from_cad.placed import Placed
from handfast.spatial.se3 import Array

PIXELS = 160
_DEEP = 0.06e-3  # material in the way thinner than that is drawing [m]
_FEW = 3  # rays that meet something by the facets of two equal circles


@dataclass(frozen=True, eq=False, slots=True)
class Removal:
    """One part taken off, or a group by its base. direction: unit, in the assembly; None: nothing free was
    found, it is a guess; left: the parts that stay, of its own group where it is taken off within one;
    barred_by: the parts taken off before that would be in its way; group: that it takes along, or None."""

    part: int
    direction: Array | None
    left: frozenset[int]
    barred_by: frozenset[int] = frozenset()
    group: DrawnGroup | None = None


def removals(
    parts: tuple[Placed, ...], found: tuple[Contact, ...], base: int, groups: tuple[DrawnGroup, ...] = ()
) -> tuple[tuple[Removal, ...], tuple[DrawnGroup, ...]]:
    """All parts but the base, the first to come off first; and the groups that come off as one. Screws come
    first; a pin that holds two parts together comes after the part it locates; else the part that the file
    names last. What a group holds follows it; a group that cannot come off whole is taken apart in place."""
    work = _Work(parts, found, _Sight(parts))
    steps, whole = _taken_off(work, frozenset(range(len(parts))), base, groups)
    return tuple(steps), tuple(g for g in groups if g in whole)


@dataclass(frozen=True, eq=False, slots=True)
class _Work:
    parts: tuple[Placed, ...]
    found: tuple[Contact, ...]
    sight: _Sight


def _taken_off(
    work: _Work, among: frozenset[int], base: int, groups: tuple[DrawnGroup, ...]
) -> tuple[list[Removal], list[DrawnGroup]]:
    """Steps by which all but the base of some parts come off, groups among them as one."""
    own = [g for g in groups if g.members < among and base not in g.members]
    left = set(among)
    steps: list[Removal] = []
    whole: list[DrawnGroup] = []
    while len(left) > 1:
        outer = [g for g in own if g.members <= left and not any(g.members < h.members for h in own)]
        step = _next(work, among, left, base, outer)
        if step is None:  # the outermost group is none: its parts come off one by one
            own.remove(outer[-1])
            continue
        steps.append(step)
        if step.group is None:
            left.discard(step.part)
            continue
        left -= step.group.members
        inner, deeper = _taken_off(work, step.group.members, step.group.base, groups)
        steps += inner
        whole += [step.group, *deeper]
    return steps, whole


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
    work: _Work, among: frozenset[int], left: set[int], base: int, groups: list[DrawnGroup]
) -> Removal | None:
    """The next part or group to come off; None if nothing does and there is a group to be taken apart."""
    grouped = set[int]().union(*(g.members for g in groups))
    units = [(frozenset({i}), None) for i in left - {base} - grouped] + [(g.members, g) for g in groups]
    carried = len(joined_to(base, work.found, left))
    ranked = sorted(units, key=lambda u: (_rank(work, u[0], left), -max(u[0])))
    # What would leave others hanging in the air comes off after them.
    ranked.sort(key=lambda u: len(joined_to(base, work.found, left - u[0])) < carried - len(u[0]))
    for unit, group in ranked:
        for direction in _directions(unit, work.found, left):
            if _free(work, unit, direction, left):
                gone = among - left
                barred = frozenset(k for k in gone if not _free(work, unit, direction, {k}))
                first = group.base if group is not None else min(unit)
                return Removal(first, direction, frozenset(left - unit), barred, group)
    if groups:
        return None
    first = min(ranked[0][0])
    return Removal(first, None, frozenset(left - {first}))


def _rank(work: _Work, unit: frozenset[int], left: set[int]) -> int:
    if len(unit) > 1:
        return 1
    (index,) = unit
    touched = {
        c.other(index)
        for c in work.found
        if index in (c.a, c.b) and c.kind != "aligned" and c.other(index) in left
    }
    if work.parts[index].is_a("screw"):
        return 0
    return 2 if work.parts[index].is_a("pin") and len(touched) > 1 else 1


def _directions(unit: frozenset[int], found: tuple[Contact, ...], left: set[int]) -> list[Array]:
    """Both ways along the axes of its contacts, the most used first; then away from its faces."""
    votes: list[tuple[Array, float]] = []
    for c in found:
        inside = [i for i in (c.a, c.b) if i in unit]
        if len(inside) == 1 and c.other(inside[0]) in left:
            away = c.axis if inside[0] == c.b else -c.axis
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


def _free(work: _Work, unit: frozenset[int], direction: Array, left: set[int] | frozenset[int]) -> bool:
    rays = sum(
        work.sight.rays_blocked(part, other, direction)
        for part in unit
        for other in left - unit
        if not _gives_way(work.parts, part, other, work.found, direction)
    )
    return rays <= max(_FEW, 0.01 * sum(work.sight.size(part, direction) for part in unit))


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
