"""A spec in words: what was expected where something else stands, and how it may be written."""

from __future__ import annotations

from handfast.files.spec import (
    Choice,
    Direction,
    FeatureName,
    Fields,
    FilePath,
    Flag,
    Named,
    Number,
    Quantity,
    Repeated,
    Row,
    Spec,
    Word,
)
from handfast.spatial import units


def expected(spec: Spec) -> str:
    """A spec in words, for messages."""
    if isinstance(spec, Quantity | Number):
        return _expected_number(spec)
    if isinstance(spec, Repeated | Row):
        return _expected_list(spec)
    if isinstance(spec, Choice):
        return f"one of: {', '.join(spec.options)}"
    if isinstance(spec, FilePath):
        place = ", in the project folder or package:NAME/path" if spec.packages else ""
        return f"{spec.what} ({' or '.join(spec.endings)}){place}"
    if isinstance(spec, Named):
        return f"names, each with {spec.item.what}"
    if isinstance(spec, Fields):
        return f"{spec.what} with the keys: {', '.join(f.name for f in spec.fields)}"
    words = {Flag: "true or false", FeatureName: "PART.FEATURE", Direction: "a direction such as +z"}
    return spec.what if isinstance(spec, Word) else words[type(spec)]


def _a(noun: str) -> str:
    return f"an {noun}" if noun[0] in "aeiou" else f"a {noun}"


def _expected_number(spec: Quantity | Number) -> str:
    sign = {"any": "", "not negative": ", not negative", "positive": ", greater than zero"}[spec.sign]
    if isinstance(spec, Number):
        return f"a {'whole ' if spec.whole else ''}number without a unit{sign}"
    unit = units.EXAMPLE[spec.dimension].partition(" ")[2]
    most = f", at most {units.show(spec.most, unit).strip()}" if spec.most is not None else ""
    return f"{_a(spec.dimension)} with its unit, such as {units.EXAMPLE[spec.dimension]!r}{sign}{most}"


def _expected_list(spec: Repeated | Row) -> str:
    if isinstance(spec, Row):
        alternative = ", or the word unknown" if spec.unknown else ""
        return f"a list of {len(spec.items)} values such as {example(spec)}{alternative}"
    return f"a list of {f'{spec.length} ' if spec.length else ''}values, each {expected(spec.item)}"


def example(spec: Spec) -> str:
    """How a value may be written."""
    if isinstance(spec, Quantity):
        return units.EXAMPLE[spec.dimension]
    if isinstance(spec, Row):
        return f"[{', '.join(example(i) for i in spec.items)}]"
    if isinstance(spec, Repeated):
        return f"[{', '.join([example(spec.item)] * (spec.length or 1))}]"
    if isinstance(spec, Choice):
        return spec.options[0]
    if isinstance(spec, Fields):
        needed = [f for f in spec.fields if f.required]
        return "{" + ", ".join(f"{f.name}: {example(f.spec)}" for f in needed) + "}"
    if isinstance(spec, Named):
        return f"{{NAME: {example(spec.item)}}}"
    simple = {Number: "1", Flag: "true", Direction: "+z", FeatureName: "PART.FEATURE", Word: "NAME"}
    return simple.get(type(spec), "FILE")
