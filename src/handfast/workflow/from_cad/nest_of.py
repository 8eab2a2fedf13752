"""Where the base of a product, or of what is built apart, stands while the others are put on it."""

from __future__ import annotations

import numpy as np

from handfast.files.starter.written import mm, row
from handfast.mates.from_cad.guess import Guessed
from handfast.spatial.se3 import Array
from handfast.workflow.from_cad.lying import TURNED, Lying, standing
from handfast.workflow.from_cad.pose_text import pose_text
from handfast.workflow.from_cad.ways import from_below

PLATE, STOP, SLACK = 85e-3, 8e-3, 0.1e-3
_FORWARD = 0.45  # of the nest from the bases, or a little less where a bench stands behind it [m]
_BENCHED = 0.40
_BETWEEN, _ROW = 44e-3, 0.5  # left for fingers between two places of a bench; its longest row [m]
_HAND = 50e-3  # left for a hand between the two places of a product that is turned over [m]
_RAIL, _PROUD = 5e-3, 4e-3  # least width of a rail, and its height beyond what hangs between the rails [m]


def nest_text(guessed: Guessed, up: Array) -> tuple[str, tuple[float, float]]:
    """The holder in cell.yaml, and half its extent along x and y that parts have to keep clear of [m]."""
    T = standing(guessed, up)
    base = next(p for p in guessed.parts if p.name == guessed.base)
    points = base.placed.graph.vertices
    if from_below(guessed):
        rails = _rails(guessed, T)
        if rails is not None:
            return _turning_nest(guessed.base, points, T, *rails)
    size, middle, low = _extent(points, T)
    lines = [
        "  nest:                 # a fixture: a plate with four stops around the base",
        "    kind: nest",
        f"    at: {{position: {row(0, _BENCHED if guessed.groups else _FORWARD, 0)}}}",
        "    solids:",
        f"      - "
        f"{{box: {row(size[0] + 0.05, size[1] + 0.04, PLATE)}, at: {{position: {row(0, 0, PLATE / 2)}}}}}",
        *stops(size, 0.0, 0.0, PLATE),
        "    places:",
    ]
    at = [-float(middle[0]), -float(middle[1]), PLATE - low]
    if from_below(guessed):
        lines.append(
            "      # ? Some parts come in from below, and no stand-in was found: where is it turned over?"
        )
    for name in ("upright", "over") if from_below(guessed) else ("seat",):
        lines.append(_place(name, T, at, guessed.base, takes=name == "over"))
    return "\n".join(lines), (float(size[0]) / 2, float(size[1]) / 2)


def stops(size: Array, x: float, y: float, height: float) -> list[str]:
    """Four stops around a box of that size [m] that stands on a top at that height, its middle at x and y."""
    tall = min(STOP, 0.4 * float(size[2]))
    lines = []
    for axis in (0, 1):
        for sign in (-1, 1):
            at = [x, y, height + tall / 2]
            at[axis] += sign * (float(size[axis]) / 2 + SLACK + STOP / 2)
            edges = [0.3 * float(size[0]), 0.3 * float(size[1]), tall]
            edges[axis] = STOP
            lines.append(f"      - {{box: {row(*edges)}, at: {{position: {row(*at)}}}}}")
    return lines


def _extent(points: Array, T: Array) -> tuple[Array, Array, float]:
    turned = points @ T[:3, :3].T
    low, high = turned.min(axis=0), turned.max(axis=0)
    return high - low, (low + high) / 2, float(low[2])


def _place(name: str, T: Array, at: list[float], base: str, takes: bool = False) -> str:
    word = "takes" if takes else "holds"
    return (
        f"      {name}: {{at: {pose_text(T, at)}, {word}: {base}, slack: {mm(SLACK)}, slack_angle: 0.2 deg}}"
    )


def _rails(guessed: Guessed, T: Array) -> tuple[float, float] | None:
    """Width of a rail under each end along x, and how high it must be for what hangs between them [m]; None
    if the parts leave no room for it."""
    world = {
        p.name: (
            p.placed.graph.vertices @ p.placed.T_assembly_part[:3, :3].T + p.placed.T_assembly_part[:3, 3]
        )
        @ T[:3, :3].T
        for p in guessed.parts
    }
    base = world.pop(guessed.base)
    low, high = base.min(axis=0), base.max(axis=0)
    others = np.concatenate(list(world.values()))
    proud = others[(others[:, 2] < low[2] - 1e-6) | (others[:, 2] > high[2] + 1e-6)]
    if not len(proud):
        return _RAIL, _PROUD
    room = min(float(proud[:, 0].min() - low[0]), float(high[0] - proud[:, 0].max())) - 2e-3
    deep = max(float(low[2] - proud[:, 2].min()), float(proud[:, 2].max() - high[2]), 0.0)
    return (min(room, 14e-3), deep + _PROUD) if room > _RAIL else None


def _turning_nest(
    base: str, points: Array, T: Array, wide: float, tall: float
) -> tuple[str, tuple[float, float]]:
    """Two pairs of rails between stops: on one the base stands upright, on the other turned over."""
    size, _, _ = _extent(points, T)
    apart = float(size[1]) / 2 + _HAND / 2
    top = PLATE + tall
    deep = float(size[1]) + 2 * apart + 0.04
    lines = [
        "  nest:                 # a fixture: rails to stand on upright, and rails to stand on turned over",
        "    kind: nest",
        f"    at: {{position: {row(0, _FORWARD, 0)}}}",
        "    solids:",
        f"      - {{box: {row(size[0] + 0.03, deep, PLATE)}, at: {{position: {row(0, 0, PLATE / 2)}}}}}",
    ]
    for y in (-apart, apart):
        for sign in (-1, 1):
            x = sign * (float(size[0]) - wide) / 2
            box = row(wide, 0.7 * float(size[1]), tall)
            lines.append(f"      - {{box: {box}, at: {{position: {row(x, y, PLATE + tall / 2)}}}}}")
            x = sign * (float(size[0]) / 2 + SLACK + 3e-3)
            box = row(6e-3, 0.4 * float(size[1]), tall + 6e-3)
            lines.append(f"      - {{box: {box}, at: {{position: {row(x, y, PLATE + tall / 2 + 3e-3)}}}}}")
    lines.append("    places:")
    for name, turned, y in (("upright", T, -apart), ("over", TURNED @ T, apart)):
        _, middle, low = _extent(points, turned)
        at = [-float(middle[0]), y - float(middle[1]), top - low]
        lines.append(_place(name, turned, at, base, takes=name == "over"))
    return "\n".join(lines), (float(size[0]) / 2 + 6e-3, deep / 2)


def bench_text(guessed: Guessed, places: dict[str, Lying], nest_half: float) -> tuple[str, float]:
    """Where sub-assemblies are built: behind the nest, a plate with stops under the base of each, in rows
    between the hands; and half its extent along x [m]. places: of parts, by name; nest_half: of the nest's
    base along y [m]."""
    vertices = {p.name: p.placed.graph.vertices for p in guessed.parts}
    solids, held, half = [], [], 0.0
    y = _BENCHED + nest_half + 0.05
    for line in _rows([places[g.base] for g in guessed.groups]):
        wide = sum(2 * m.footprint[0] for m in line) + _BETWEEN * (len(line) - 1)
        deep = max(2 * m.footprint[1] for m in line)
        half, x = max(half, wide / 2), -wide / 2
        for m in line:
            T = m.T_seat_part
            size, middle, low = _extent(vertices[m.part], T)
            at = x + m.footprint[0], y + deep / 2
            box = row(size[0] + 2 * STOP, size[1] + 2 * STOP, PLATE)
            solids.append(f"      - {{box: {box}, at: {{position: {row(*at, PLATE / 2)}}}}}")
            solids += stops(size, *at, PLATE)
            stands = [at[0] - float(middle[0]), at[1] - float(middle[1]), PLATE - low]
            held.append(_place(m.part, T, stands, m.part))
            x += 2 * m.footprint[0] + _BETWEEN
        y += deep + _BETWEEN
    lines = [
        "  bench:                # a fixture: what is built apart stands here, each between four stops",
        "    kind: nest",
        f"    at: {{position: {row(0, 0, 0)}}}",
        "    solids:",
        *solids,
        "    places:",
        *held,
    ]
    return ("\n".join(lines) + "\n", half) if held else ("", 0.0)


def _rows(members: list[Lying]) -> list[list[Lying]]:
    rows: list[list[Lying]] = []
    for m in members:
        taken = sum(2 * k.footprint[0] + _BETWEEN for k in rows[-1]) if rows else _ROW
        if not rows or taken + 2 * m.footprint[0] > _ROW:
            rows.append([])
        rows[-1].append(m)
    return rows
