"""Pairs: kinds that go together, diameters that fit, and several pairs of a mate that agree."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from handfast.checking.case import Case, Rule
from handfast.checking.fit_of_pair import fit_of_pair
from handfast.checking.seated import seat_of, seated_parts
from handfast.model.feature import Feature
from handfast.model.finding import Finding
from handfast.spatial import se3

_ROUND = {("shaft", "hole"), ("hole", "shaft"), ("shaft", "slot"), ("slot", "shaft")}
_FIRST: dict[str, set[tuple[str, str]]] = {
    "insert": _ROUND,
    "press": _ROUND,
    "seat": _ROUND | {("face", "face"), ("hole", "hole"), ("hole", "thread"), ("slot", "thread")},
    "screw": {("thread", "thread")},
    "gear-mesh": _ROUND | {("gear", "gear")},
    "ring": {("ring", "groove"), ("ring", "shaft"), ("groove", "ring")},
    "belt": {("ring", "gear"), ("ring", "groove"), ("ring", "shaft")},
}
_LATER = set().union(*_FIRST.values()) | {("slot", "hole"), ("hole", "slot")}
APART, TILT = 0.05e-3, 0.5
"""How far [m] and how tilted [deg] a further pair may be off as drawn: ten times finer than ISO 2768-1 m."""


def kinds(case: Case) -> Iterator[Finding]:
    """Pairs of features that do not go together."""
    for mate in case.project.product.mates:
        if not mate.pairs:
            yield case.finding(
                "pair-kinds", ("product", "mates", mate.name, "pairs"), "at least one feature pair", "none"
            )
        for path, pair, moving, fixed in case.pairs(mate):
            first = pair is mate.pairs[0]
            allowed = _FIRST[mate.kind] if first else _LATER
            if (moving.kind, fixed.kind) not in allowed:
                wanted = " or ".join(sorted(f"{a} and {b}" for a, b in allowed))
                found = (
                    f"{moving.kind} {mate.part}.{pair.moving} and {fixed.kind} {pair.fixed_part}.{pair.fixed}"
                )
                which = f"in a {mate.kind} mate, first pair" if first else "in a further pair"
                yield case.finding("pair-kinds", path, f"{which}: {wanted}", found)


def diameters(case: Case) -> Iterator[Finding]:
    """Shafts that no tolerance lets into their hole, and fits that may jam or fall out."""
    for mate in case.project.product.mates:
        for path, _, moving, fixed in case.pairs(mate):
            fit = fit_of_pair(moving, fixed)
            if fit is None:
                continue
            play = f"clearance {_um(fit.clearance_min)} to {_um(fit.clearance_max)}"
            found = f"{_size(moving)} and {_size(fixed)}: {play}"
            if mate.kind == "press":
                if fit.clearance_max > 0:
                    wanted = "interference in a press mate"
                    yield case.finding("loose-press", path, wanted, found, "use a tighter fit", "warning")
            elif fit.clearance_max < 0:
                fix = "check the diameters and fits, or make it a press mate"
                yield case.finding("diameters-cannot-fit", path, "a hole wider than its shaft", found, fix)
            elif fit.clearance_min < 0:
                wanted = "a fit with clearance at every permitted size"
                yield case.finding("may-interfere", path, wanted, found, "use a wider fit", "warning")


def agreement(case: Case) -> Iterator[Finding]:
    """Further pairs of a mate that are off when its first pair is home."""
    poses = seated_parts(case)
    for mate in case.project.product.mates:
        seat = seat_of(case, mate, poses)
        if seat is None:
            continue
        for path, pair, moving, fixed in list(case.pairs(mate))[1:]:
            T_fixed_moving = (
                se3.inverse(poses[pair.fixed_part] @ fixed.frame.matrix) @ seat @ moving.frame.matrix
            )
            aside = (
                abs(float(np.hypot(*T_fixed_moving[:2, 3])) - _centres(moving, fixed))
                if (moving.kind, fixed.kind) != ("face", "face")
                else 0.0
            )
            along = float(T_fixed_moving[2, 3]) - pair.depth
            tilt = float(np.degrees(np.arccos(np.clip(T_fixed_moving[2, 2], -1, 1))))
            slack = APART + _play(moving, fixed)
            if aside > slack or abs(along) > APART or tilt > TILT:
                found = f"{1e3 * aside:.3g} mm aside, {1e3 * along:.3g} mm along, tilted {tilt:.3g} deg"
                expected = "a pair that is home when the first pair is"
                yield case.finding("pairs-disagree", path, expected, found, "check `at`, z_along and depth")


def _centres(a: Feature, b: Feature) -> float:
    """How far apart the axes of a pair are at home [m]: not at all, or the centre distance of two gears."""
    return sum((f.module or 0.0) * (f.teeth or 0) for f in (a, b)) / 2 if a.kind == b.kind == "gear" else 0.0


def _play(moving: Feature, fixed: Feature) -> float:
    """A clearance hole need not be drawn truer than its play; a slot gives way in one direction anyway."""
    fit = fit_of_pair(moving, fixed)
    return max(0.0, fit.clearance_min / 2) if fit is not None else 0.0


def touched_faces(case: Case) -> Iterator[Finding]:
    """Touches against something that is no face."""
    for mate in case.project.product.mates:
        for i, (part, name) in enumerate(mate.touches):
            feature = case.feature(part, name)
            if feature is not None and feature.kind != "face":
                path = ("product", "mates", mate.name, "touch", str(i), "face")
                yield case.finding("touch-face", path, "a face", f"the {feature.kind} {part}.{name}")


def _size(feature: Feature) -> str:
    if feature.kind == "thread":
        return str(feature.thread)
    return f"{1e3 * (feature.diameter or 0):.4g} mm {feature.fit or 'as drawn'}"


def _um(value: float) -> str:
    return f"{1e6 * value:+.0f} um"


def belts(case: Case) -> Iterator[Finding]:
    """Belts: they bend, and nothing here knows how."""
    for mate in case.project.product.mates:
        if mate.kind == "belt":
            path = ("product", "mates", mate.name, "kind")
            fix = "leave this mate to a person, and say so in the process"
            yield case.finding("not-planned-yet", path, "a mate of rigid parts", "a belt, which bends", fix)


RULES = (
    Rule(
        "pair-kinds",
        "A pair joins features that go together: shaft and hole, thread and thread, face and face.",
        kinds,
    ),
    Rule(
        "diameters-cannot-fit",
        "The largest hole that the fit permits must be wider than the smallest shaft.",
        diameters,
    ),
    Rule("may-interfere", "A transition fit may need force at some permitted sizes: said as a warning."),
    Rule(
        "loose-press",
        "A press mate is held by interference; with clearance it may fall out: said as a warning.",
    ),
    Rule(
        "pairs-disagree",
        "With the first pair home, all further pairs of a mate must be home as well: same axis, same depth.",
        agreement,
    ),
    Rule("belt", "A belt bends while it is put on (reported as not-planned-yet).", belts),
    Rule("touch-face", "A touch goes against a flat face.", touched_faces),
)
