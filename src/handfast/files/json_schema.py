"""JSON Schemas (draft 2020-12) of the project files, made from the specs by which they are read.

An editor checks by them while one writes: keys, kinds, units, words to choose from. What needs a look at
other values or files is `check`'s business.
"""

from __future__ import annotations

import re
from functools import singledispatchmethod
from typing import Any

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
    Sign,
    Spec,
    Word,
)
from handfast.files.units_pattern import quantity_pattern
from handfast.spatial import units

DIALECT = "https://json-schema.org/draft/2020-12/schema"
Schema = dict[str, Any]
_AXES = [sign + axis for axis in "xyz" for sign in ("", "+", "-")]


def json_schema(spec: Fields, title: str) -> Schema:
    """The schema of a file that is read by `spec`."""
    writer = _Writer()
    top = writer.fields(spec)
    return {"$schema": DIALECT, "title": title, **top, "$defs": dict(sorted(writer.shared.items()))}


class _Writer:
    """One schema. shared: keys with values that stand in more places than one, by name."""

    def __init__(self) -> None:
        self.shared: dict[str, Schema] = {}
        self._names: dict[int, str] = {}

    @singledispatchmethod
    def of(self, spec: Spec) -> Schema:
        """The schema of one value."""
        raise TypeError(f"no schema for {type(spec).__name__}")

    def fields(self, spec: Fields) -> Schema:
        """Keys with values."""
        properties = {}
        for field in spec.fields:
            told = field.help or (field.spec.what if isinstance(field.spec, Word) else "")
            help_ = {"description": told} if told else {}
            properties[field.name] = {**self.of(field.spec), **help_}
        required = [f.name for f in spec.fields if f.required]
        one_of = [{"required": [key]} for key in spec.one_of]
        return {
            "type": "object",
            "properties": properties,
            "additionalProperties": False,
            **({"required": required} if required else {}),
            **({"oneOf": one_of} if one_of else {}),
        }

    @of.register
    def _(self, spec: Fields) -> Schema:
        if id(spec) not in self._names:
            words = re.sub(r"^an? |^the ", "", spec.what).replace(" ", "-")
            taken = sum(name == words or name.startswith(f"{words}.") for name in self._names.values())
            name = self._names[id(spec)] = f"{words}.{taken + 1}" if taken else words
            self.shared[name] = self.fields(spec)
        return {"$ref": f"#/$defs/{self._names[id(spec)]}"}

    @of.register
    def _(self, spec: Named) -> Schema:
        return {"type": "object", "additionalProperties": self.of(spec.item)}

    @of.register
    def _(self, spec: Repeated) -> Schema:
        length = {} if spec.length is None else {"minItems": spec.length, "maxItems": spec.length}
        return {"type": "array", "items": self.of(spec.item), **length}

    @of.register
    def _(self, spec: Row) -> Schema:
        items = [self.of(item) for item in spec.items]
        row = {"type": "array", "prefixItems": items, "items": False, "minItems": len(items)}
        return {"anyOf": [row, {"const": "unknown"}]} if spec.unknown else row

    @of.register
    def _(self, spec: Quantity) -> Schema:
        most = "" if spec.most is None else f".at-most-{spec.most:g}"
        name = f"{spec.dimension}.{spec.sign}{most}".replace(" ", "-").replace("any", "either-sign")
        self.shared.setdefault(name, _quantity(spec))
        return {"$ref": f"#/$defs/{name}"}

    @of.register
    def _(self, spec: Number) -> Schema:
        return {"type": "integer" if spec.whole else "number", **_least(spec.sign)}

    @of.register
    def _(self, spec: Word) -> Schema:
        # A word may look like a number or like true to YAML: it is read as it stands.
        return {"type": ["string", "number", "boolean"], "minLength": 1}

    @of.register
    def _(self, _spec: FeatureName) -> Schema:
        return {"type": "string", "pattern": r"^[^.]+\..+$"}

    @of.register
    def _(self, spec: Choice) -> Schema:
        return {"enum": list(spec.options)}

    @of.register
    def _(self, _spec: Flag) -> Schema:
        return {"type": "boolean"}

    @of.register
    def _(self, _spec: Direction) -> Schema:
        vector = {"type": "array", "items": {"type": "number"}, "minItems": 3, "maxItems": 3}
        return {"anyOf": [{"enum": _AXES}, vector]}

    @of.register
    def _(self, spec: FilePath) -> Schema:
        endings = "|".join("".join(_either_case(c) for c in ending) for ending in spec.endings)
        away = r"/|\.\./" if spec.packages else r"/|\.\./|package:"
        return {"type": "string", "pattern": rf"^(?!{away}).*({endings})$"}


def _quantity(spec: Quantity) -> Schema:
    text = {"type": "string", "pattern": quantity_pattern(spec.dimension, spec.sign)}
    shown = {"examples": [units.EXAMPLE[spec.dimension]]}
    if "" not in units.DIMENSIONS[spec.dimension]:
        return {**text, **shown}
    most = {} if spec.most is None else {"maximum": spec.most}
    return {"anyOf": [text, {"type": "number", **_least(spec.sign), **most}], **shown}


def _least(sign: Sign) -> Schema:
    return {"any": {}, "not negative": {"minimum": 0}, "positive": {"exclusiveMinimum": 0}}[sign]


def _either_case(character: str) -> str:
    upper, lower = character.upper(), character.lower()
    return re.escape(character) if upper == lower else f"[{lower}{upper}]"
