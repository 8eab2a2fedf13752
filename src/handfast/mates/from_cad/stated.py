"""What a file states for a feature, as the project keeps it: fit, position tolerance, and questions where the
drawing contradicts itself or the project has no such words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from handfast.geometry.cad.drawn_feature import DrawnFeature
from handfast.geometry.cad.tolerance import UNREAD, Tolerance
from handfast.model.feature import Feature
from handfast.standards.hole_deviations import HOLE_LETTERS
from handfast.standards.it_grades import IT_UM
from handfast.standards.limits_and_fits import Limits, deviations
from handfast.standards.shaft_deviations import SHAFT_LETTERS
from handfast.standards.tabled_value_error import TabledValueError

SAME_SIZE = 1e-6
"""Drawn and stated sizes that differ by less are one [m]: CAD files are written to 0.1 um."""
_EXACT = 0.6e-6  # of deviations: tables are in whole um, drawings sometimes rounded [m]
_ACROSS = 0.1  # a linear size within that share of a slot's width is its width
_PLACE = ("position", "coaxiality", "concentricity", "symmetry")


@dataclass(frozen=True, slots=True)
class StatedFeature:
    """feature: with what is stated; note: what that was, or ""; question: what it leaves open, or ""."""

    feature: Feature
    note: str
    question: str


def with_tolerances(
    features: Iterable[DrawnFeature], tolerances: tuple[Tolerance, ...]
) -> tuple[DrawnFeature, ...]:
    """Each feature with the tolerances that are stated for faces of its own."""
    return tuple(replace(d, tolerances=own) if (own := _own(d, tolerances)) else d for d in features)


def _own(d: DrawnFeature, tolerances: tuple[Tolerance, ...]) -> tuple[Tolerance, ...]:
    return tuple(t for t in tolerances if t.faces and set(t.faces) <= set(d.faces))


def as_stated(d: DrawnFeature, feature: Feature) -> StatedFeature:
    """The feature with the fit and the position tolerance that the file states for it."""
    notes: list[str] = []
    asked: list[str] = []
    for tolerance in _sizes(d, feature):
        said = _with_size(feature, tolerance, already=bool(notes))
        feature = said.feature
        notes.append(said.note)
        asked.append(said.question)
    for tolerance in d.tolerances:
        if tolerance.kind != "size":
            said = _with_zone(feature, tolerance)
            feature = said.feature
            notes.append(said.note)
            asked.append(said.question)
    return StatedFeature(
        feature, "; ".join(n for n in notes if n), "\n".join(q for q in dict.fromkeys(asked) if q)
    )


def _sizes(d: DrawnFeature, feature: Feature) -> list[Tolerance]:
    """Of its diameter, or of a slot's width; sizes of other things are left out."""
    if feature.kind not in ("hole", "shaft", "slot") or feature.diameter is None:
        return []
    sizes = [t for t in d.tolerances if t.kind == "size" and t.nominal is not None]
    if feature.kind == "slot":
        width = feature.diameter
        return [t for t in sizes if abs((t.nominal or 0) - width) < _ACROSS * width]
    return sizes


def size_words(t: Tolerance) -> str:
    """Such as "8 H7" or "8 +0.015/0" in millimetres."""
    size = f"{1e3 * (t.nominal or 0):.6g}"
    if t.fit is not None:
        return f"{size} {t.fit}"
    if t.lower is None or t.upper is None:
        return size
    return f"{size} {_signed(t.upper)}/{_signed(t.lower)}"


def _signed(apart: float) -> str:
    text = f"{1e3 * apart:+.4f}".rstrip("0").rstrip(".")
    return "0" if float(text or 0) == 0 else text


def zone_words(t: Tolerance) -> str:
    """Such as "position 0.1 mm (round) to A, B"."""
    form = " (round)" if t.round else ""
    datums = f" to {', '.join(t.datums)}" if t.datums else ""
    return f"{t.kind} {1e3 * (t.zone or 0):.4g} mm{form}{datums}"


def tolerance_words(t: Tolerance) -> str:
    """Either of the two."""
    return size_words(t) if t.kind == "size" else zone_words(t)


def _with_size(feature: Feature, t: Tolerance, already: bool) -> StatedFeature:
    words, drawn, nominal = size_words(t), feature.diameter or 0.0, t.nominal or 0.0
    note = f"stated {words}"
    if t.fit is None and t.lower is None:  # a size without a tolerance
        unread = f"stated {words} {UNREAD}: which is it?" if UNREAD in t.text else ""
        asked = "\n".join(q for q in (_drawn_else(drawn, t), unread) if q)
        return StatedFeature(feature, "" if abs(nominal - drawn) < SAME_SIZE else note, asked)
    if already and feature.fit is not None:
        return StatedFeature(feature, note, f"it is stated twice: is it {feature.fit}, or {words}?")
    fit, limits, question = _class_of(t, feature.kind != "shaft")
    if fit is None or limits is None:
        return StatedFeature(feature, note, question)
    if abs(nominal - drawn) < SAME_SIZE:
        return StatedFeature(replace(feature, fit=fit), note, question)
    if limits.lower - SAME_SIZE < drawn - nominal < limits.upper + SAME_SIZE:
        told = f"{note}, drawn {1e3 * drawn:.6g} mm within it: the stated size is taken"
        return StatedFeature(replace(feature, diameter=nominal, fit=fit), told, question)
    return StatedFeature(feature, note, "\n".join(q for q in (_drawn_else(drawn, t), question) if q))


def _drawn_else(drawn: float, t: Tolerance) -> str:
    """The question where the drawn size is outside what is stated."""
    if abs((t.nominal or 0.0) - drawn) < SAME_SIZE:
        return ""
    return f"drawn {1e3 * drawn:.6g} mm, stated {size_words(t)}: which is right? The drawn size is written."


def _class_of(t: Tolerance, is_hole: bool) -> tuple[str | None, Limits | None, str]:
    """The class to write, its limits, and the question that it leaves open."""
    nominal = t.nominal or 0.0
    if t.fit is not None:
        side = "hole" if is_hole else "shaft"
        if t.fit[0].isupper() is not is_hole:
            words = f"stated {t.fit}, a class of {'shafts' if is_hole else 'holes'}, on a {side}: which?"
            return None, None, words
        try:
            return t.fit, deviations(nominal, t.fit), ""
        except TabledValueError as error:
            return (
                None,
                None,
                f"stated {t.fit}, which is not in the tables here ({error.expected}): write one",
            )
    wanted = Limits(t.lower or 0.0, t.upper or 0.0)
    fit, limits = nearest_class(nominal, wanted, is_hole)
    if fit is None or limits is None:
        return None, None, f"stated {size_words(t)}: no class of ISO 286 is tabled at that size; write one"
    off = max(abs(limits.lower - wanted.lower), abs(limits.upper - wanted.upper))
    if off < _EXACT:
        return fit, limits, ""
    nearest = f"{_signed(limits.upper)}/{_signed(limits.lower)}"
    words = f"stated {size_words(t)}, no class of ISO 286; {fit} ({nearest}) is nearest: near enough?"
    return fit, Limits(wanted.lower, wanted.upper), words


def nearest_class(nominal: float, wanted: Limits, is_hole: bool) -> tuple[str | None, Limits | None]:
    """The class whose deviations come nearest [m], the usual letters first where two are as near."""
    best: tuple[float, str, Limits] | None = None
    letters = HOLE_LETTERS if is_hole else SHAFT_LETTERS
    usual = ("h", "g", "f", "js", "k", "m", "n", "p", *(x.lower() for x in letters))
    for letter in sorted(letters, key=lambda x: usual.index(x.lower())):
        for grade in IT_UM:
            try:
                found = deviations(nominal, f"{letter}{grade}")
            except TabledValueError:
                continue
            off = float(np.hypot(found.lower - wanted.lower, found.upper - wanted.upper))
            if best is None or off < best[0] - 1e-9:
                best = off, f"{letter}{grade}", found
    return (None, None) if best is None else best[1:]


def _with_zone(feature: Feature, t: Tolerance) -> StatedFeature:
    words = zone_words(t)
    if t.kind not in _PLACE or feature.kind not in ("hole", "shaft", "slot", "thread", "face"):
        return StatedFeature(feature, f"stated {words}, for which a project has no place", "")
    asked = []
    if t.kind != "position":
        asked.append(f"{t.kind} is written as a position tolerance: is the datum where the part is located?")
    elif not t.round and feature.kind in ("hole", "shaft", "thread"):
        asked.append("the zone is not round: it is written as if it were, as wide in every direction?")
    if feature.position_tolerance is not None:
        words_of_other = f"{1e3 * feature.position_tolerance:.4g} mm"
        asked.append(
            f"two tolerances of place are stated, {words_of_other} and {words}: the wider is written"
        )
    zone = max(t.zone or 0.0, feature.position_tolerance or 0.0)
    return StatedFeature(replace(feature, position_tolerance=zone), f"stated {words}", "\n".join(asked))
