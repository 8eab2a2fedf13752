"""Facets of a mesh, grouped by the surface that each stands for: planes, cylinders, cones, and others."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handfast.geometry.cad.facet_fit import RoundKind, Surface, fit_round
from handfast.geometry.cad.facet_table import SMOOTH, Facets, Flags, Numbers, joined
from handfast.spatial.se3 import Array

_LEAST = 4  # flats that show a round surface: three of any symmetric bevel lie on a circle
_LEAST_CORNERS = 10  # of four strips; through six corners there is always a cone
_LEAN = np.cos(np.deg2rad(25.0))  # of a facet's normal against the surface's at its middle
_WIDER = 3.0  # than the usual flat of its surface a flat may be; wider is a plane cut along it
_ENDS = 0.2  # share of its facets that go on gently beyond it: with fewer a surface is whole
_REFITS = 8
_BULGED: tuple[RoundKind, ...] = ("sphere", "torus")
_STRAIGHT: tuple[RoundKind, ...] = ("cylinder", "cone")
_REACHES = (3, 2, 5)  # flats to each side of the first that a surface is tried on
_LEAST_RINGS = 5  # of corners about the axis: three, or four of a symmetric pin, lie on a torus anyway


@dataclass(frozen=True, eq=False, slots=True)
class Group:
    """triangles: which; surface: a round one, or None for a plane, or for a surface that has no name; flat:
    whether it is a plane; deviation: how far its flats leave the surface [m]."""

    triangles: Numbers
    surface: Surface | None
    flat: bool
    deviation: float = 0.0


def grouped(f: Facets) -> list[Group]:
    """Every triangle in one group."""
    free = np.ones(len(f.triangles), dtype=bool)
    groups: list[Group] = []
    failed: set[int] = set()
    for seed in _seeds(f):
        if not free[seed] or int(f.flat_of[seed]) in failed:
            continue
        group = _round_about(f, seed, free)
        if group is None:
            failed.add(int(f.flat_of[seed]))
        else:
            groups.append(group)
            free[group.triangles] = False
    groups += _pieces(f, groups, free)
    return groups + _rest(f, free)


def _seeds(f: Facets) -> Iterator[int]:
    """Triangles with a neighbour that they turn gently into, the largest first."""
    some: Flags = np.asarray(f.gentle.any(axis=1))
    order = np.argsort(-f.areas, kind="stable")
    yield from (int(t) for t in order if some[t])


def _round_about(f: Facets, seed: int, free: Flags) -> Group | None:
    """The largest round surface that the seed is a facet of; of equal ones the simplest."""
    best: Group | None = None
    for kind in _STRAIGHT:
        for patch in _neighbourhoods(f, seed, free):
            group = _tried(f, kind, patch, seed, free)
            if group is not None and (best is None or len(group.triangles) > len(best.triangles)):
                best = group
            if group is not None:
                break
        if best is not None and _goes_on(f, best.triangles) < _ENDS:
            return best
    group = _bulged(f, seed, free)
    if group is None or group.surface is None:
        return best
    if best is None:  # a sphere has bands that are cones: what has none is no sphere, but a single band
        return group if group.surface.kind == "torus" else None
    return group if len(group.triangles) > 2 * len(best.triangles) else best


def _goes_on(f: Facets, triangles: Numbers) -> float:
    """Share of some facets that turn gently into others outside of them."""
    inside = np.zeros(len(f.triangles), dtype=bool)
    inside[triangles] = True
    leads = f.gentle[triangles] & ~inside[f.beside[triangles]]
    return float(leads.any(axis=1).mean())


def _bulged(f: Facets, seed: int, free: Flags) -> Group | None:
    """A torus or sphere through the seed and what is around it in every direction."""
    flats, front = {int(f.flat_of[seed])}, [int(f.flat_of[seed])]
    for _ in range(3):
        front = [n for flat in front for n in _next(f, flat, free, None) if n not in flats]
        flats.update(front)
    patch = np.concatenate([f.of_flat[flat] for flat in sorted(flats)])
    found = [g for kind in _BULGED if (g := _tried(f, kind, patch, seed, free)) is not None]
    return max(found, key=lambda g: len(g.triangles), default=None)


def _tried(f: Facets, kind: RoundKind, patch: Numbers, seed: int, free: Flags) -> Group | None:
    """Fitted to a few facets, then to all that lie on it, as long as these become more."""
    for axis in _axes(f, kind, patch):
        best: Group | None = None
        about, on = axis, patch
        for _ in range(_REFITS):
            apex = _apex(f, on) if kind == "cone" and on is patch else None
            surface = fit_round(kind, f.vertices[np.unique(f.triangles[on])], about, f.tolerance, apex)
            group = _grown(f, surface, seed, free) if surface is not None else None
            if (
                surface is None
                or group is None
                or (best is not None and len(group.triangles) <= len(best.triangles))
            ):
                break
            best, about, on = group, surface.axis, group.triangles
        if best is not None and _is_whole(f, best):
            return best
    return None


def _is_whole(f: Facets, group: Group) -> bool:
    """Whether it has flats enough, and a torus rings of corners enough, to be what it seems."""
    corners = np.unique(f.triangles[group.triangles])
    if len(np.unique(f.flat_of[group.triangles])) < _LEAST or len(corners) < _LEAST_CORNERS:
        return False
    s = group.surface
    return s is None or s.kind != "torus" or _rings(s, f.vertices[corners]) >= _LEAST_RINGS


def _neighbourhoods(f: Facets, seed: int, free: Flags) -> Iterator[Numbers]:
    """Flats around the seed, over gentle edges that run along one direction, as a cylinder's do."""
    seen: set[tuple[int, ...]] = set()
    for reach in _REACHES:
        for along in _directions(f, seed):
            flats, front = {int(f.flat_of[seed])}, [int(f.flat_of[seed])]
            for _ in range(reach):
                front = [n for flat in front for n in _next(f, flat, free, along) if n not in flats]
                flats.update(front)
            chosen = tuple(sorted(flats))
            if len(flats) >= _LEAST - 1 and chosen not in seen:
                seen.add(chosen)
                yield np.concatenate([f.of_flat[flat] for flat in chosen])


def _directions(f: Facets, seed: int) -> list[Array]:
    """Of the gentle edges of the seed's flat, longest first: along such an edge a cylinder's axis runs."""
    own = f.of_flat[int(f.flat_of[seed])]
    found: list[tuple[float, Array]] = []
    for t, k in zip(*np.nonzero(f.gentle[own]), strict=True):
        a, b = f.triangles[own[t], k], f.triangles[own[t], (k + 1) % 3]
        edge = f.vertices[b] - f.vertices[a]
        length = float(np.linalg.norm(edge))
        if length > 0 and not any(abs(float(edge @ d)) > 0.95 * length for _, d in found):
            found.append((length, edge / length))
    return [d for _, d in sorted(found, key=lambda pair: -pair[0])[:2]]


def _next(f: Facets, flat: int, free: Flags, along: Array | None) -> Iterator[int]:
    """Flats across the gentle edges of a flat, those that run along a direction if one is given."""
    own = f.of_flat[flat]
    for t, k in zip(*np.nonzero(f.gentle[own]), strict=True):
        other = int(f.beside[own[t], k])
        a, b = f.triangles[own[t], k], f.triangles[own[t], (k + 1) % 3]
        edge = f.vertices[b] - f.vertices[a]
        runs = along is None or abs(float(edge @ along)) > 0.7 * float(np.linalg.norm(edge))
        if free[other] and runs:
            yield int(f.flat_of[other])


def _apex(f: Facets, patch: Numbers) -> Array:
    """Where the planes of some facets meet: of strips of a cone, at its apex."""
    middle = f.middles[patch].mean(axis=0)
    n, p = f.normals[patch], f.middles[patch] - middle
    return np.asarray(middle + np.linalg.lstsq(n, (n * p).sum(axis=1), rcond=1e-9)[0])


def _axes(f: Facets, kind: RoundKind, patch: Numbers) -> list[Array]:
    """To begin from, out of the normals of some facets."""
    n, w = f.normals[patch], f.areas[patch][:, None]
    if kind == "cylinder":
        return [np.linalg.eigh((w * n).T @ n)[1][:, 0]]
    spread = n - (w * n).sum(axis=0) / w.sum()
    turned = np.linalg.eigh((w * spread).T @ spread)[1]
    if kind == "cone":
        return [turned[:, 0]]
    if kind == "sphere":
        return [turned[:, 2]]
    # The line that all normals meet (Pottmann and Wallner 2001), and what they turn least about.
    middle = f.middles[patch].mean(axis=0)
    size = max(float(np.abs(f.middles[patch] - middle).max()), 1e-12)
    rows = np.column_stack([np.cross((f.middles[patch] - middle) / size, n), n])
    line = np.linalg.svd(rows, full_matrices=False)[2][-1][:3]
    return [line, turned[:, 0], turned[:, 1]] if float(np.linalg.norm(line)) > 1e-6 else [turned[:, 0]]


def _grown(f: Facets, surface: Surface, seed: int, free: Flags) -> Group | None:
    """All facets that hang together with the seed on the surface; None if the seed is not on it."""
    on = np.abs(surface.off(f.vertices)) <= f.tolerance
    lean = (surface.normals(f.middles) * f.normals).sum(axis=1)
    side = 1.0 if lean[seed] > 0 else -1.0
    belongs = free & on[f.triangles].all(axis=1) & (side * lean > _LEAN)
    if not belongs[seed]:
        return None
    found = _connected(f, belongs, seed)
    deep = _deviations(f, surface, found)
    narrow = deep <= _WIDER * float(np.median(deep)) + f.tolerance
    if not narrow[found == seed].all():
        return None
    belongs[found[~narrow]] = False
    kept = _connected(f, belongs, seed)
    return Group(kept, surface, False, float(deep[narrow].max()))


def _rings(torus: Surface, points: Array) -> int:
    """How many circles about the axis the corners lie on, as far as a hundredth of the tube tells."""
    away = points - torus.origin
    along = away @ torus.axis
    out = np.linalg.norm(away - along[:, None] * torus.axis, axis=1) - torus.radius
    angles = np.sort(np.arctan2(along, out))
    return 1 + int((np.diff(angles) > 0.02).sum())


def _deviations(f: Facets, surface: Surface, which: Numbers) -> Array:
    """How far each of some facets leaves the surface: at its middle and at the middles of its edges [m]."""
    corners = f.vertices[f.triangles[which]]
    halves = (corners + np.roll(corners, -1, axis=1)) / 2
    off = np.abs(surface.off(halves.reshape(-1, 3))).reshape(-1, 3).max(axis=1)
    return np.asarray(np.maximum(off, np.abs(surface.off(f.middles[which]))))


def _connected(f: Facets, belongs: NDArray[np.bool_], seed: int) -> Numbers:
    seen, front = {seed}, [seed]
    while front:
        t = front.pop()
        for k in range(3):
            other = int(f.beside[t, k])
            if belongs[other] and other not in seen and f.turn[t, k] < SMOOTH:
                seen.add(other)
                front.append(other)
    return np.array(sorted(seen), dtype=np.int64)


def _pieces(f: Facets, groups: list[Group], free: Flags) -> list[Group]:
    """Small pieces of surfaces that are known from elsewhere on the part: too few flats to be found alone."""
    found: list[Group] = []
    gentle = f.gentle.any(axis=1)
    for group in groups:
        if group.surface is None or group.surface.kind not in ("cylinder", "cone"):
            continue
        on = np.abs(group.surface.off(f.vertices)) <= f.tolerance
        lean = np.abs((group.surface.normals(f.middles) * f.normals).sum(axis=1))
        belongs = free & on[f.triangles].all(axis=1) & (lean > _LEAN) & gentle
        while belongs.any():
            piece = _connected(f, belongs, int(np.flatnonzero(belongs)[0]))
            belongs[piece] = False
            deep = _deviations(f, group.surface, piece)
            narrow = bool((deep <= _WIDER * group.deviation + f.tolerance).all())
            if narrow and len(np.unique(f.flat_of[piece])) > 1:
                found.append(Group(piece, group.surface, False, float(deep.max())))
                free[piece] = False
    return found


def _rest(f: Facets, free: Flags) -> list[Group]:
    """Planes; and where many small flats turn gently into each other, surfaces without a name."""
    small = free & (np.bincount(f.flat_of)[f.flat_of] <= 2)
    joins = f.gentle & small[:, None] & small[f.beside]
    joins |= (f.flat_of[:, None] == f.flat_of[f.beside]) & free[:, None]
    label = joined(f.beside, joins & free[f.beside])
    found = []
    for one in np.unique(label[free]):
        members = np.flatnonzero((label == one) & free)
        flats = np.unique(f.flat_of[members])
        if len(flats) >= 2 * _LEAST:
            found.append(Group(members, None, False))
        else:
            found += [Group(members[f.flat_of[members] == flat], None, True) for flat in flats]
    return found
