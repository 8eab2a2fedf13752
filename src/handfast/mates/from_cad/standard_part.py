"""Standard parts, known by their dimensions."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from handfast.geometry.cad.drawn_feature import DrawnFeature
from handfast.standards.ball_bearings import ball_bearing_of
from handfast.standards.dowel_pins import CHAMFER_LENGTH_MM
from handfast.standards.o_rings import o_ring_name
from handfast.standards.socket_head_screws import socket_head
from handfast.standards.threads import THREAD_NAMES, coarse_thread

StandardKind = Literal["screw", "pin", "bearing", "o-ring"]
PIN_LENGTHS_MM = (3, 4, 5, 6, 8, 10, 12, 14, 16, 18, 20, 22, 24, 26, 28, 30, 32, 35, 40, 45, 50, 60, 80, 100)
"""ISO 8734 (from memory)."""
SCREW_LENGTHS_MM = (3, 4, 5, 6, 8, 10, 12, 16, 20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 80, 90, 100)
"""ISO 4762 (from memory)."""
_HEAD = 0.035  # by which a drawn head may differ from the standard's
_CLOSE = 0.02e-3


@dataclass(frozen=True, slots=True)
class StandardPart:
    """kind; name: such as "ISO 4762 M4 x 12"; thread: of a screw; shank: name of the feature that goes in
    (of a screw or pin); head: name of a screw's head; fit: class of the diameter, or None; sure; why."""

    kind: StandardKind
    name: str
    sure: float
    why: str
    thread: str | None = None
    shank: str | None = None
    head: str | None = None
    fit: str | None = None


def standard_part(features: tuple[DrawnFeature, ...]) -> StandardPart | None:
    """The standard part with these features, or None."""
    for attempt in (_screw, _ring, _bearing, _pin):
        found = attempt(features)
        if found is not None:
            return found
    return None


def _shafts(features: tuple[DrawnFeature, ...]) -> list[DrawnFeature]:
    return [d for d in features if d.feature.kind == "shaft" and d.form != "outside of a ring"]


def _screw(features: tuple[DrawnFeature, ...]) -> StandardPart | None:
    shafts = sorted(_shafts(features), key=lambda d: d.feature.diameter or 0)
    if len(shafts) < 2 or any(d.feature.kind in ("gear", "groove", "slot") for d in features):
        return None
    shank, head = shafts[0], shafts[-1]
    socket = any(d.form == "hexagon socket" for d in features)
    for name in THREAD_NAMES:
        standard, thread = socket_head(name), coarse_thread(name)
        d, wide = shank.feature.diameter or 0, head.feature.diameter or 0
        tall, length = head.feature.length or 0, shank.feature.length or 0
        alike = (
            thread.root_diameter - _CLOSE <= d <= thread.diameter + _CLOSE
            and abs(wide - standard.head_diameter) < _HEAD * standard.head_diameter
            and abs(tall - standard.head_height) < _HEAD * standard.head_height
        )
        if not alike or not _coaxial(shank, head):
            continue
        nearest = min(SCREW_LENGTHS_MM, key=lambda mm: abs(mm * 1e-3 - length))
        usual = abs(nearest * 1e-3 - length) < 0.3e-3
        sure = 0.6 + 0.25 * socket + 0.12 * usual
        why = f"head {1e3 * wide:.3g} x {1e3 * tall:.3g} mm as ISO 4762 has it for {name}"
        why += ", hexagon socket" if socket else ", no socket drawn"
        words = f"ISO 4762 {name} x {nearest if usual else round(1e3 * length, 2):g}"
        names = shank.feature.name, head.feature.name
        return StandardPart("screw", words, sure, why, name, *names, None)
    return None


def _coaxial(a: DrawnFeature, b: DrawnFeature) -> bool:
    T_a, T_b = a.feature.frame.matrix, b.feature.frame.matrix
    away = T_b[:3, 3] - T_a[:3, 3]
    z = T_a[:3, 2]
    return bool(abs(abs(float(z @ T_b[:3, 2])) - 1) < 1e-6 and np.linalg.norm(away - (away @ z) * z) < _CLOSE)


def _ring(features: tuple[DrawnFeature, ...]) -> StandardPart | None:
    for d in features:
        f = d.feature
        if f.kind == "ring" and f.diameter and f.length:
            name = o_ring_name(f.diameter, f.length)
            size = f"{1e3 * f.diameter:.4g} x {1e3 * f.length:.3g}"
            why = "a torus of a usual section" if name else "a torus; the section is not a usual one"
            return StandardPart("o-ring", f"O-ring {name or size}", 0.9 if name else 0.6, why)
    return None


def _bearing(features: tuple[DrawnFeature, ...]) -> StandardPart | None:
    holes = [d for d in features if d.feature.kind == "hole" and "through" in d.form]
    for outside in _shafts(features):
        for bore in holes:
            f, g = outside.feature, bore.feature
            found = ball_bearing_of(g.diameter or 0, f.diameter or 0, f.length or 0)
            if found is not None and _coaxial(outside, bore):
                why = "bore, outside and width as ISO 15 has them"
                return StandardPart("bearing", f"ball bearing {found.name}", 0.85, why)
    return None


def _pin(features: tuple[DrawnFeature, ...]) -> StandardPart | None:
    shafts = _shafts(features)
    others = [d for d in features if d.feature.kind not in ("shaft", "face")]
    if len(shafts) != 1 or others or len(shafts[0].ends) != 2:
        return None
    f, chamfers = shafts[0].feature, shafts[0].chamfers
    size, length = round(1e3 * (f.diameter or 0), 3), 1e3 * (f.length or 0)
    if (
        size not in CHAMFER_LENGTH_MM
        or min(abs(length - mm) for mm in PIN_LENGTHS_MM) > 0.02
        or not all(chamfers)
    ):
        return None
    tall = chamfers[0][0] * np.tan(chamfers[0][1]) if chamfers[0] else 0.0
    usual = abs(1e3 * tall - CHAMFER_LENGTH_MM[size]) < 0.1
    why = (
        "diameter, length and end chamfers as ISO 8734 has them"
        if usual
        else "diameter and length as ISO 8734"
    )
    name = f"ISO 8734 {size:g} x {length:g}"
    return StandardPart("pin", name, 0.85 if usual else 0.65, why, None, f.name, None, "m6")
