"""Cylinders and cones that follow each other along an axis: a stepped bore with its chamfers, a stepped
shaft."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.geometry.cad.axis_line import AxisLine, Ring, whole_rings
from handfast.geometry.cad.patches import Patch, Patches

NEXT = 20e-6
"""Ends of neighbours along an axis lie as close [m]."""
_ROUNDS = 3e-3  # a rounded step may be so long [m]
_NEAR_END = 0.35  # of its length: borders whose middle lies nearer to an end are borders of that end
_POINT = 0.05e-3  # a cone that ends narrower comes to a point [m]
LOW, HIGH = 0, 1


@dataclass(frozen=True, eq=False, slots=True)
class Run:
    """rings in the order along the axis; open: whether the run is open at its low and its high end (a mouth,
    a tip); rounds: radius of the rounding there [m], or 0."""

    line: AxisLine
    rings: tuple[Ring, ...]
    open: tuple[bool, bool]
    rounds: tuple[float, float]


def runs_of(line: AxisLine, patches: Patches, outward: int, left_out: set[int]) -> tuple[Run, ...]:
    """The runs of shafts (outward +1) or holes (-1) about an axis. left_out: patches that are something
    else."""
    rings = [r for r in whole_rings(line, left_out) if r.patch.outward == outward]
    around = [r for r in rings if r.encloses]
    rings = [r for r in rings if r.encloses or (r.patch.kind == "cone" and _touches_any(r, around, patches))]
    rings.sort(key=lambda r: (r.middle, r.low))
    groups: list[list[Ring]] = []
    for ring in rings:
        if groups and _follows(line, groups[-1][-1], ring, patches):
            groups[-1].append(ring)
        else:
            groups.append([ring])
    return tuple(_run(line, tuple(g), patches) for g in groups if any(r.patch.kind == "cylinder" for r in g))


def _touches_any(ring: Ring, others: list[Ring], patches: Patches) -> bool:
    near = patches.around(ring.pieces)
    return any(i in near for o in others for i in o.pieces)


def _follows(line: AxisLine, a: Ring, b: Ring, patches: Patches) -> bool:
    apart = b.low - a.high
    return -NEXT < apart < _ROUNDS and _joined(line, a, b, patches)


def _joined(line: AxisLine, a: Ring, b: Ring, patches: Patches) -> bool:
    """Whether two rings meet, or a step between them (planes and roundings) meets both."""
    seen, front = set(a.pieces), list(a.pieces)
    for _ in range(4):
        front = [n for i in front for n in patches.beside[i] if n not in seen]
        if any(i in front for i in b.pieces):
            return True
        seen.update(front)
        front = [i for i in front if _is_step(line, patches.all[i], a.high, b.low)]
    return False


def _is_step(line: AxisLine, patch: Patch, low: float, high: float) -> bool:
    """Whether a plane or rounding lies between two places along the axis."""
    if patch.kind not in ("plane", "torus"):
        return False
    along = (patch.points - line.origin) @ line.direction
    return low - NEXT < float(along.min()) and float(along.max()) < high + NEXT


def _run(line: AxisLine, rings: tuple[Ring, ...], patches: Patches) -> Run:
    low, high = _end(line, rings[0], LOW, patches), _end(line, rings[-1], HIGH, patches)
    return Run(line, rings, (low[0], high[0]), (low[1], high[1]))


def _end(line: AxisLine, ring: Ring, side: int, patches: Patches) -> tuple[bool, float]:
    """Whether a run is open at the end of its outermost ring, and the radius of the rounding there."""
    end = ring.high if side == HIGH else ring.low
    radius = ring.high_radius if side == HIGH else ring.low_radius
    outward = ring.patch.outward
    if ring.patch.kind == "cone" and radius < _POINT:
        return outward > 0, 0.0  # a point: of a drill's bottom, or of a pointed pin
    weight = {"open": 0.0, "closed": 0.0}
    rounds = 0.0
    for other, edges in patches.around(ring.pieces).items():
        neighbour = patches.all[other]
        for edge in edges:
            along = float(((edge.points - line.origin) @ line.direction).mean())
            if abs(along - end) > _NEAR_END * (ring.high - ring.low):
                continue
            turned = edge.bend
            if turned == "smooth" and neighbour.kind in ("torus", "sphere"):
                turned = "convex" if neighbour.outward > 0 else "concave"
                rounds = neighbour.tube if turned == "convex" and neighbour.kind == "torus" else rounds
            length = float(np.linalg.norm(np.diff(edge.points, axis=0), axis=1).sum())
            weight["open" if turned == "convex" else "closed"] += length
    return weight["open"] > weight["closed"], rounds


def reachable(run: Run, k: int, side: int, outward: int) -> bool:
    """Whether ring k can be entered (or can enter) from that end: nothing on the way is narrower (or
    wider)."""
    if not run.open[side]:
        return False
    radius = run.rings[k].patch.radius
    way = run.rings[k + 1 :] if side == HIGH else run.rings[:k]
    if outward > 0:
        return all(max(r.low_radius, r.high_radius) <= radius + NEXT for r in way)
    return all(min(r.low_radius, r.high_radius) >= radius - NEXT for r in way)


def lead_in(run: Run, k: int, side: int, outward: int) -> tuple[float, float] | None:
    """Radial width [m] and angle from the face [rad] of the chamfer at that end of ring k, or None."""
    j = k + 1 if side == HIGH else k - 1
    if not 0 <= j < len(run.rings) or run.rings[j].patch.kind != "cone":
        return None
    ring, cone = run.rings[k], run.rings[j]
    near, far = (cone.low_radius, cone.high_radius) if side == HIGH else (cone.high_radius, cone.low_radius)
    width = (near - far) * outward
    if abs(near - ring.patch.radius) > 2 * NEXT or width < 5e-6:
        return None
    return width, float(np.arctan2(cone.high - cone.low, width))


def end_of(run: Run, k: int, side: int, outward: int) -> float:
    """Where ring k with its lead-in or rounding ends on that side, along the axis [m]."""
    sign = 1.0 if side == HIGH else -1.0
    if lead_in(run, k, side, outward) is not None:
        cone = run.rings[k + 1] if side == HIGH else run.rings[k - 1]
        return cone.high if side == HIGH else cone.low
    ring = run.rings[k]
    last = k == (len(run.rings) - 1 if side == HIGH else 0)
    return (ring.high if side == HIGH else ring.low) + (sign * run.rounds[side] if last else 0.0)
