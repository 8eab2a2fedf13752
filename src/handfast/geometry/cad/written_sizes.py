"""Dimensions as the entities of a STEP file have them (ISO 10303-47): what the CAD library hands on has lost
the signs of deviations and the numbers of classes."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from handfast.geometry.cad.brep_faces import MM
from handfast.geometry.cad.tolerance_text import parse_tolerance

_INCH, _FOOT = 25.4e-3, 304.8e-3
_PREFIX = {"Milli": 1e-3, "Centi": 1e-2, "Deci": 1e-1, "Micro": 1e-6}


@dataclass(frozen=True, slots=True)
class WrittenSize:
    """kind: as the file names it, such as "diameter"; nominal [m]; lower, upper: deviations [m] or None; fit:
    ISO 286 class or None; text: what is written beside it."""

    kind: str
    nominal: float | None
    lower: float | None
    upper: float | None
    fit: str | None
    text: str


def written_sizes(model: Any) -> list[WrittenSize]:
    """Of all dimensions, sizes and distances, in the order of the file. model: of the library's STEP
    reader."""
    entities = [model.Value(k + 1) for k in range(model.NbEntities())]  # kept: they are known by identity
    shown: dict[int, Any] = {}
    ranges: dict[int, Any] = {}
    for entity in entities:
        if type(entity).__name__ == "StepShape_DimensionalCharacteristicRepresentation":
            shown[_about(entity.Dimension())] = entity.Representation()
        elif type(entity).__name__ == "StepShape_PlusMinusTolerance":
            ranges[_about(entity.TolerancedDimension())] = entity.Range()
    return [
        _size(str(e.Name().ToCString()), shown.get(id(e)), ranges.get(id(e)))
        for e in entities
        if type(e).__name__.startswith(("StepShape_DimensionalSize", "StepShape_DimensionalLocation"))
    ]


def _about(choice: Any) -> int:
    """Which size or distance something is about."""
    return id(choice.DimensionalSize() or choice.DimensionalLocation())


def _size(kind: str, representation: Any, within: Any) -> WrittenSize:
    numbers, words = _items(representation)
    text = "; ".join(words)
    nominal = next((v for name, v in numbers if "limit" not in name), None)
    limits = [next((v for name, v in numbers if word in name), None) for word in ("lower", "upper")]
    lower, upper, fit = None, None, None
    if within is not None and within.LimitsAndFits() is not None:
        fit = _class(within.LimitsAndFits())
    elif within is not None and within.ToleranceValue() is not None:
        value = within.ToleranceValue()
        lower, upper = sorted((_length(value.LowerBound()), _length(value.UpperBound())))
    written = next((w for word in words if (w := parse_tolerance(word)) is not None), None)
    if limits[0] is not None and limits[1] is not None:
        low, high = sorted((limits[0], limits[1]))
        nominal = written.nominal if written is not None else _round_between(low, high)
        lower, upper = low - nominal, high - nominal
    elif fit is None and lower is None and written is not None:
        nominal, fit, lower, upper = written.nominal, written.fit, written.lower, written.upper
    elif fit is None and written is not None:
        fit = written.fit
    return WrittenSize(kind, nominal, lower, upper, fit, text)


def _items(representation: Any) -> tuple[list[tuple[str, float]], list[str]]:
    """Lengths [m] with their names, and texts."""
    numbers: list[tuple[str, float]] = []
    words: list[str] = []
    for k in range(1, (representation.NbItems() if representation is not None else 0) + 1):
        item = representation.ItemsValue(k)
        name = str(item.Name().ToCString())
        if hasattr(item, "GetMeasureWithUnit"):
            numbers.append((name, _length(item.GetMeasureWithUnit())))
        elif hasattr(item, "Measure"):
            numbers.append((name, _length(item.Measure())))
        elif hasattr(item, "Description") and item.Description() is not None:
            words.append(str(item.Description().ToCString()))
    return numbers, words


def _length(measure: Any) -> float:
    """[m]."""
    return float(measure.ValueComponent()) * _metres(measure.UnitComponent().NamedUnit())


def _metres(unit: Any) -> float:
    """One of a unit [m]. What is not known is taken as a millimetre."""
    if unit is None:
        return MM
    if hasattr(unit, "HasPrefix"):
        prefix = str(unit.Prefix()).rsplit("_sp", 1)[-1] if unit.HasPrefix() else ""
        return 1.0 if not prefix else _PREFIX.get(prefix, MM)
    name = str(unit.Name().ToCString()).upper() if hasattr(unit, "Name") else ""
    return _INCH if "INCH" in name else _FOOT if "FOOT" in name else MM


def _round_between(low: float, high: float) -> float:
    """The roundest number of millimetres within limits of size, as a nominal size is; else their middle
    [m]."""
    for digits in (0, 1, 2):
        ends = [round(v / MM, digits) * MM for v in (low, high, (low + high) / 2)]
        for value in ends:
            if low - 1e-9 <= value <= high + 1e-9:
                return value
    return (low + high) / 2


def _class(fit: Any) -> str | None:
    """Such as H7 or g6: letters in capitals for holes."""
    letter, zone, grade = (str(t.ToCString()) for t in (fit.FormVariance(), fit.ZoneVariance(), fit.Grade()))
    number = re.search(r"[0-9]+", grade)
    if not letter or number is None:
        return None
    is_hole = zone.strip().lower().startswith("hole") if zone.strip() else letter.isupper()
    return f"{letter.upper() if is_hole else letter.lower()}{int(number[0])}"
