"""How deep many bodies lie in each other's material: only those whose boxes meet are cut with each other."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from handfast.geometry.mesh import MeshError
from handfast.geometry.overlap import box_around, cut, placed
from handfast.model.shape import Solid
from handfast.spatial.se3 import Array

Placed = tuple[tuple[Solid, ...], Array]
Pair = tuple[int, int]
_FEW = 8  # so many are cut one by one: putting them together first would take longer


def overlap_depths(
    bodies: Sequence[Placed], folder: str, wanted: Callable[[int, int], bool], deeper_than: float = 0.0
) -> dict[Pair, float]:
    """What `overlap_depth` finds for each pair (i, j), i < j, of bodies (solids, T_world_body) that share
    material and are wanted [m].

    A body whose mesh cannot be read claims nothing. deeper_than: what is no thicker may be left out [m]; no
    piece is thicker than its box, so boxes that share less are not looked at. wanted is asked only of bodies
    whose boxes meet. One that meets many, as a tray does, is cut once with all of them that are apart from
    each other.
    """
    low, high, solid_of = _boxes(bodies, folder)
    partners: dict[int, dict[int, list[Pair]]] = {}
    body_of = np.array([body for body, _ in solid_of], dtype=int)
    for i, k in meeting(low + deeper_than / 2, high - deeper_than / 2):
        if body_of[i] != body_of[k]:
            for a, b, mine, its in ((body_of[i], body_of[k], i, k), (body_of[k], body_of[i], k, i)):
                partners.setdefault(int(a), {}).setdefault(int(b), []).append((int(mine), int(its)))
    found: dict[Pair, float] = {}
    asked: set[Pair] = set()
    for a in sorted(partners, key=lambda body: (-len(partners[body]), body)):
        near = {}
        for b, rows in sorted(partners[a].items()):
            pair = (min(a, b), max(a, b))
            if pair not in asked and wanted(*pair):
                near[b] = rows
            asked.add(pair)
        for group in _apart(near, low, high):
            for b, depth in _cut(bodies, a, group, solid_of, low, high, folder):
                pair = (min(a, b), max(a, b))
                found[pair] = max(found.get(pair, 0.0), depth)
    return found


def meeting(low: Array, high: Array) -> Iterator[Pair]:
    """Pairs (i, k), i < k, of boxes (n, 3), (n, 3) that meet or touch, found along x first."""
    order = np.argsort(low[:, 0], kind="stable")
    low, high = low[order], high[order]
    until = np.searchsorted(low[:, 0], high[:, 0], side="right")
    for i, end in enumerate(until.tolist()):
        rest = slice(i + 1, end)
        meet = ((low[rest, 1:] <= high[i, 1:]) & (low[i, 1:] <= high[rest, 1:])).all(axis=1)
        for k in np.flatnonzero(meet) + i + 1:
            one, other = int(order[i]), int(order[k])
            yield (one, other) if one < other else (other, one)


def _boxes(bodies: Sequence[Placed], folder: str) -> tuple[Array, Array, list[Pair]]:
    """Boxes of all solids, least and largest coordinates (n, 3), and for each its body and its place
    there."""
    boxes, solid_of = [], []
    for body, (solids, T_world_body) in enumerate(bodies):
        try:
            own = [box_around(solid, T_world_body, folder) for solid in solids]
        except MeshError:
            continue  # `mesh-unreadable` tells of it
        boxes += own
        solid_of += [(body, k) for k in range(len(own))]
    whole = np.array(boxes).reshape(-1, 2, 3)
    return whole[:, 0], whole[:, 1], solid_of


def _apart(near: dict[int, list[Pair]], low: Array, high: Array) -> list[dict[int, list[Pair]]]:
    """The partners in groups of which no two meet with the solids that are near."""
    groups: list[dict[int, list[Pair]]] = []
    taken: list[tuple[list[NDArray[np.float64]], list[NDArray[np.float64]]]] = []
    for b, rows in near.items():
        own = sorted({its for _, its in rows})
        least, most = low[own].min(axis=0), high[own].max(axis=0)
        for group, (lows, highs) in zip(groups, taken, strict=True):
            if not ((np.array(lows) <= most) & (least <= np.array(highs))).all(axis=1).any():
                group[b] = rows
                lows.append(least)
                highs.append(most)
                break
        else:
            groups.append({b: rows})
            taken.append(([least], [most]))
    return groups


def _cut(
    bodies: Sequence[Placed],
    a: int,
    group: dict[int, list[Pair]],
    solid_of: list[Pair],
    low: Array,
    high: Array,
    folder: str,
) -> Iterator[tuple[int, float]]:
    """For partners that are apart from each other: the partner and the thickness [m] of each piece that it
    shares with body a."""

    def near(body: int, rows: set[int]) -> tuple[Solid, ...]:
        return tuple(bodies[body][0][solid_of[r][1]] for r in sorted(rows))

    mine = near(a, {r for rows in group.values() for r, _ in rows})
    theirs = {b: {r for _, r in rows} for b, rows in group.items()}
    one = placed(mine, bodies[a][1], folder)
    others = {b: placed(near(b, rows), bodies[b][1], folder) for b, rows in theirs.items()}
    if len(others) <= _FEW:
        for b, other in others.items():
            for piece in cut(one, [other]):
                yield b, piece.thickness
        return
    names = list(theirs)
    least = np.array([low[sorted(theirs[b])].min(axis=0) for b in names])
    most = np.array([high[sorted(theirs[b])].max(axis=0) for b in names])
    for piece in cut(one, list(others.values())):
        middle = (piece.low + piece.high) / 2
        outside = np.maximum(least - middle, middle - most).max(axis=1)
        yield names[int(outside.argmin())], piece.thickness
