"""The corpus of parts: plates, shafts, flanges, brackets, gears and small things, from a seed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from tests.verification.cad import cuts, draw
from tests.verification.cad.truth import DrawnPart, Truth

Z = np.array([0.0, 0.0, 1.0])
Rng = np.random.Generator
Shape = tuple[Any, list[Truth], list[float]]


def _pick(rng: Rng, *values: float) -> float:
    return float(values[int(rng.integers(len(values)))])


def plate(rng: Rng) -> Shape:
    """A block with holes, slots and bosses in a grid on its top, and one in its side."""
    nx, ny, cell = int(rng.integers(2, 4)), int(rng.integers(1, 3)), 24.0
    size = (nx * cell + _pick(rng, 2, 4, 6), ny * cell + _pick(rng, 2, 5, 8), _pick(rng, 12, 16, 20))
    shape, true = cuts.block(size)
    high = size[2]
    for i in range(nx):
        for j in range(ny):
            at = np.array([(i - (nx - 1) / 2) * cell, (j - (ny - 1) / 2) * cell, high])
            made, facts, added = _on_top(rng, at, high)
            shape = draw.add(shape, made) if added else draw.cut(shape, made)
            true += facts
    side = np.array([0.0, -size[1] / 2, high / 2])
    made, facts = cuts.hole(side, np.array([0.0, 1.0, 0.0]), _pick(rng, 2, 3), 6.0, False, 0.3)
    grips = [s for s in size if s <= 85.0]
    return draw.cut(shape, made), true + facts, grips


def _on_top(rng: Rng, at: np.ndarray, high: float) -> tuple[Any, list[Truth], bool]:
    d = float(rng.integers(30, 90)) / 10 + 0.07
    kind = int(rng.integers(9))
    if kind == 0:
        return *cuts.hole(at, -Z, d, high, True, _pick(rng, 0, 0.5)), False
    if kind == 1:
        return *cuts.hole(
            at, -Z, d, 8.0, False, _pick(rng, 0, 0.4), _pick(rng, 45, 60), bool(rng.integers(2))
        ), False
    if kind == 2:
        return *cuts.counterbored(at, -Z, 5.5, 10.0, 5.4, high), False
    if kind == 3:
        return *cuts.countersunk(at, -Z, 4.5, high), False
    if kind == 4:
        steps = [d + 5.0, d] if rng.integers(2) else [d + 9.0, d + 4.5, d]
        return *cuts.stepped(at, -Z, steps, [4.0, 3.0, 2.5][: len(steps)]), False
    if kind == 5:
        name = ("M3", "M4", "M5", "M6", "M8")[int(rng.integers(5))]
        drill = cuts.TAP_DRILLS[name]
        return *cuts.hole(at, -Z, drill, 9.0, False, (float(name[1:]) + 0.4 - drill) / 2, thread=name), False
    if kind == 6:
        return *cuts.boss(at, Z, d + 3, _pick(rng, 4, 7), _pick(rng, 0, 0.6)), True
    x = np.array([1.0, 0.0, 0.0]) if rng.integers(2) else np.array([0.0, 1.0, 0.0])
    width = _pick(rng, 4, 5, 6.2)
    through = kind == 7
    return *cuts.slot(
        at, -Z, x, width + _pick(rng, 0.6, 4, 9), width, high if through else 5.0, through
    ), False


def shaft(rng: Rng) -> Shape:
    """Three steps with shoulders, lead-ins at both ends, a ring groove in the middle step, perhaps a
    keyway."""
    d = [float(rng.integers(6, 12)), float(rng.integers(14, 20)), float(rng.integers(7, 13))]
    length = [float(rng.integers(12, 25)) for _ in d]
    width, angle = 0.5, _pick(rng, 45, 60, 75)
    tall = width * np.tan(np.deg2rad(angle))
    z = np.cumsum([0.0, *length])
    shape = draw.rod((0, 0, tall), Z, d[0], z[1] - tall)
    shape = draw.add(shape, draw.cone((0, 0, 0), Z, d[0] - 2 * width, d[0], tall))
    shape = draw.add(shape, draw.rod((0, 0, z[1]), Z, d[1], length[1]))
    shape = draw.add(shape, draw.rod((0, 0, z[2]), Z, d[2], length[2] - tall))
    shape = draw.add(shape, draw.cone((0, 0, z[3] - tall), Z, d[2], d[2] - 2 * width, tall))
    groove, deep, wide = z[1] + length[1] / 2, 1.2, _pick(rng, 1.3, 2.4)
    ring = draw.cut(
        draw.rod((0, 0, groove - wide / 2), Z, d[1] + 4, wide),
        draw.rod((0, 0, groove - 3), Z, d[1] - 2 * deep, 6),
    )
    shape = draw.cut(shape, ring)
    end, tip = np.array([0, 0, z[3]]), np.zeros(3)
    low_part, high_part = groove - wide / 2 - z[1], z[2] - groove - wide / 2
    true = [
        Truth("shaft", tip, -Z, d[0], length[0], form="stepped", chamfer=(width, angle)),
        Truth("shaft", end, Z, d[2], length[2], form="stepped", chamfer=(width, angle)),
        Truth("shaft", np.array([0, 0, z[1]]), -Z, d[1], low_part, form="stepped"),
        Truth("shaft", np.array([0, 0, z[2]]), Z, d[1], high_part, form="stepped"),
        Truth("groove", np.array([0, 0, groove]), Z, d[1] - 2 * deep, deep, form="around a shaft"),
        Truth("face", np.array([0, 0, z[1]]), -Z, size=(d[1], d[1])),
        Truth("face", np.array([0, 0, z[2]]), Z, size=(d[1], d[1])),
        Truth("face", tip, -Z, size=(d[0] - 1, d[0] - 1)),
        Truth("face", end, Z, size=(d[2] - 1, d[2] - 1)),
    ]
    if rng.integers(2):
        at = np.array([d[2] / 2 - 1.5, 0, z[2] + length[2] / 2])
        made, facts = cuts.slot(at, np.array([-1.0, 0, 0]), Z, length[2] / 2, 3.0, 1.5, False)
        del facts
        tool = draw.moved(made, np.array([[1, 0, 0, 1.5], [0, 1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1.0]]))
        shape = draw.cut(shape, tool)
        mouth = np.array([d[2] / 2, 0, z[2] + length[2] / 2])
        true.append(Truth("slot", mouth, np.array([-1.0, 0, 0]), 3.0, 1.5, (length[2] / 2, 3.0), "keyway"))
    return shape, true, [d[0], d[2], float(z[3])]


def flange(rng: Rng) -> Shape:
    """A bush with a flange: bore through, a face groove, a circle of screw holes."""
    bore, neck, disc = float(rng.integers(8, 14)), float(rng.integers(20, 26)), float(rng.integers(56, 70))
    thick, tall, count = 8.0, float(rng.integers(10, 20)), int(rng.integers(3, 7))
    shape = draw.add(draw.rod((0, 0, 0), Z, disc, thick), draw.rod((0, 0, thick), Z, neck, tall))
    top, face = np.array([0, 0, thick + tall]), np.array([0, 0, thick])
    made, true = cuts.hole(top, -Z, bore, thick + tall, True, 0.6)
    shape = draw.cut(shape, made)
    mean, wide, deep = neck + 8.0, 2.6, 1.5
    ring = draw.cut(
        draw.rod((0, 0, thick - deep), Z, mean + wide, deep + 2),
        draw.rod((0, 0, 0), Z, mean - wide, thick + 5),
    )
    shape = draw.cut(shape, ring)
    true.append(Truth("groove", face, -Z, mean, deep, form="in a face"))
    for k in range(count):
        a = 2 * np.pi * k / count + 0.1
        at = np.array([np.cos(a) * (disc - 9) / 2, np.sin(a) * (disc - 9) / 2, thick])
        made, facts = cuts.hole(at, -Z, 4.5, thick, True)
        shape, true = draw.cut(shape, made), true + facts
    true += [
        Truth("shaft", top, Z, neck, tall, form="plain"),
        Truth("shaft", np.zeros(3), -Z, disc, thick, form="stepped", other=face),
        Truth("face", np.zeros(3), -Z, size=(disc, disc)),
        Truth("face", face, Z, size=(disc, disc)),
        Truth("face", top, Z, size=(neck, neck)),
    ]
    return shape, true, [neck, disc, thick]


def bracket(rng: Rng) -> Shape:
    """An angle with a hole in each leg."""
    a, b, wide, thick = (_pick(rng, 30, 40), _pick(rng, 26, 34), _pick(rng, 20, 28), _pick(rng, 6, 8))
    shape = draw.add(draw.box((0, 0, 0), (a, wide, thick)), draw.box((0, 0, 0), (thick, wide, b)))
    y, X = wide / 2, np.array([1.0, 0.0, 0.0])
    lies = np.array([thick + (a - thick) / 2, y, thick])
    stands = np.array([thick, y, thick + (b - thick) / 2])
    one, true = cuts.hole(lies, -Z, _pick(rng, 5.3, 6.6), thick, True)
    two, more = cuts.hole(stands, -X, _pick(rng, 4.5, 7.3), thick, True, 0.5)
    shape, true = draw.cut(shape, one, two), true + more
    corners: list[tuple[list[float], list[float], tuple[float, float]]] = [
        ([a / 2, y, 0], [0, 0, -1], (a, wide)), ([0, y, b / 2], [-1, 0, 0], (wide, b)),
        ([a, y, thick / 2], [1, 0, 0], (wide, thick)), ([thick / 2, y, b], [0, 0, 1], (thick, wide)),
        ([(a + thick) / 2, y, thick], [0, 0, 1], (a - thick, wide)),
        ([thick, y, (b + thick) / 2], [1, 0, 0], (wide, b - thick)),
        ([a / 2, 0, b / 2], [0, -1, 0], (a, b)), ([a / 2, wide, b / 2], [0, 1, 0], (a, b)),
    ]  # fmt: skip
    true += [Truth("face", np.array(p, float), np.array(z, float), size=s) for p, z, s in corners]
    return shape, true, [thick, thick, wide, a, b]


def gear(rng: Rng) -> Shape:
    """Straight-sided teeth after the basic rack's heights, with a bore."""
    count, module, width = int(rng.integers(14, 30)), _pick(rng, 0.8, 1, 1.25, 1.5), _pick(rng, 6, 8)
    tip, root = module * (count + 2) / 2, module * (count - 2.5) / 2
    step = 2 * np.pi / count
    disc = draw.rod((0, 0, 0), Z, 2 * tip, width)
    for k in range(count):
        mid = (k + 0.5) * step
        wide, narrow = 0.34 * step, 0.16 * step
        corners = [
            (root, mid - narrow), (tip + 1, mid - wide), (tip + 1, mid + wide), (root, mid + narrow),
        ]  # fmt: skip
        points = np.array([[r * np.cos(t), r * np.sin(t), -1.0] for r, t in corners])
        disc = draw.cut(disc, draw.prism(points, (0, 0, width + 2)))
    bore = float(rng.integers(4, 7))
    top = np.array([0, 0, width])
    made, true = cuts.hole(top, -Z, bore, width, True)
    true += [
        Truth("gear", top, Z, teeth=count, module=module * 1e-3, length=width, other=np.zeros(3)),
        Truth("shaft", top, Z, 2 * tip, width, form="tips of teeth", other=np.zeros(3)),
        Truth("face", np.zeros(3), -Z, size=(2 * tip, 2 * tip)),
        Truth("face", top, Z, size=(2 * tip, 2 * tip)),
    ]
    return draw.cut(disc, made), true, [width]


def small(rng: Rng) -> Shape:
    """A pin, a spacer tube or a ring."""
    kind, d, length = int(rng.integers(3)), float(rng.integers(4, 11)), float(rng.integers(10, 30))
    ends = np.zeros(3), np.array([0, 0, length])
    if kind == 0:
        w, tall = 0.2, 0.2 * np.tan(np.deg2rad(75))
        shape = draw.add(
            draw.rod((0, 0, tall), Z, d, length - 2 * tall), draw.cone((0, 0, 0), Z, d - 2 * w, d, tall),
            draw.cone((0, 0, length - tall), Z, d, d - 2 * w, tall),
        )  # fmt: skip
        true = [Truth("shaft", ends[1], Z, d, length, form="plain", chamfer=(w, 75.0), other=ends[0])]
        true += [
            Truth("face", e, s * Z, size=(d - 2 * w, d - 2 * w)) for e, s in zip(ends, (-1, 1), strict=True)
        ]
        return shape, true, [d, length]
    if kind == 1:
        made, true = cuts.hole(ends[1], -Z, d, length, True)
        true += [Truth("shaft", ends[1], Z, d + 5, length, form="plain", other=ends[0])]
        true += [Truth("face", e, s * Z, size=(d + 5, d + 5)) for e, s in zip(ends, (-1, 1), strict=True)]
        return draw.cut(draw.rod((0, 0, 0), Z, d + 5, length), made), true, [d + 5, length]
    section, inner = _pick(rng, 1.5, 2, 3), d * 3
    middle = inner + section
    up = np.array([0, 0, section / 2])
    true = [
        Truth("ring", up, Z, inner, section, other=-up),
        Truth("shaft", up, Z, inner + 2 * section, section, form="outside of a ring", other=-up),
    ]
    return draw.torus((0, 0, 0), Z, middle, section), true, []


KINDS: tuple[tuple[Callable[[Rng], Shape], int], ...] = (
    (plate, 24), (shaft, 12), (flange, 8), (bracket, 8), (gear, 4), (small, 10),
)  # fmt: skip


def corpus(seed: int, share: float = 1.0) -> list[DrawnPart]:
    """66 parts, or a share of them: turned any way, a third split or mirrored, a third as splines, some in
    inches, some with points rounded to a micrometre."""
    made: list[DrawnPart] = []
    for kind, count in KINDS:
        for k in range(max(1, round(share * count))):
            rng = np.random.default_rng([seed, len(made)])
            shape, true, grips = kind(rng)
            made.append(_varied(f"{kind.__name__}_{k}", shape, true, grips, len(made), rng))
    return made


def _varied(name: str, shape: Any, true: list[Truth], grips: list[float], n: int, rng: Rng) -> DrawnPart:
    if n % 4 == 3:
        shape = draw.mirrored(shape)
        true = [t.moved(np.diag([-1.0, 1, 1, 1])) for t in true]
    if n % 3 == 1:
        shape = draw.split(shape, _pick(rng, 90, 180))
    T = np.eye(4)
    T[:3, :3] = turned(rng)
    T[:3, 3] = rng.uniform(-100, 100, 3)
    shape, true = draw.moved(shape, T), [t.moved(T) for t in true]
    spline = n % 3 == 2
    if spline:
        shape = draw.as_splines(shape)
    unit, decimals = ("INCH" if n % 5 == 4 else "MM"), (4 if n % 7 == 6 else None)
    return DrawnPart(name, shape, tuple(true), tuple(grips), spline, unit, decimals)


def turned(rng: Rng) -> np.ndarray:
    """A random rotation: about any axis, or in one of four by quarter turns only, as parts are mostly
    drawn."""
    if rng.integers(4) == 0:
        order = rng.permutation(3)
        R = np.zeros((3, 3))
        R[np.arange(3), order] = rng.choice([-1.0, 1.0], 3)
        return R if np.linalg.det(R) > 0 else R @ np.diag([1.0, 1.0, -1.0])
    q = rng.normal(size=4)
    w, x, y, z = q / np.linalg.norm(q)
    return np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
            [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
            [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
        ]
    )
