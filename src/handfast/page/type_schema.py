"""JSON Schema of what `files.typed_json` writes for a type; draft 7, which the page's type generator reads.

A dataclass becomes an object with all its fields, a tuple an array, a Literal an enumeration. Where one of
several dataclasses may stand, each names its class under "is".
"""

from __future__ import annotations

import types
from dataclasses import is_dataclass
from typing import Any, Literal, Union, get_args, get_origin

from handfast.files.typed_json import TAG, field_types

DIALECT = "http://json-schema.org/draft-07/schema#"
Schema = dict[str, Any]
_PLAIN: dict[Any, str] = {str: "string", float: "number", int: "integer", bool: "boolean", type(None): "null"}


def type_schema(kind: type[Any]) -> Schema:
    """The schema of a record. Raises TypeError for a type that records do not hold."""
    shared: dict[str, Schema] = {}
    top = _record(kind, shared)
    return {"$schema": DIALECT, "title": _name(kind), **top, "definitions": dict(sorted(shared.items()))}


def _of(kind: Any, shared: dict[str, Schema]) -> Schema:
    if kind in _PLAIN:
        return {"type": _PLAIN[kind]}
    origin = get_origin(kind)
    if origin is Literal:
        return {"enum": list(get_args(kind))}
    if origin in (Union, types.UnionType):
        return _union(kind, shared)
    if origin is tuple:
        return _tuple(get_args(kind), shared)
    if is_dataclass(origin or kind):
        return _shared(kind, shared)
    raise TypeError(f"no schema for {kind}")


def _record(kind: Any, shared: dict[str, Schema], tag: str = "") -> Schema:
    properties = {name: _of(t, shared) for name, t in field_types(kind).items()}
    if tag:
        properties = {TAG: {"const": tag}, **properties}
    return {
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }


def _shared(kind: Any, shared: dict[str, Schema], tag: str = "") -> Schema:
    """A reference to the type's schema, which is written once."""
    name = f"{_name(kind)}{'Tagged' if tag else ''}"
    if name not in shared:
        shared[name] = {}  # known while it is being made, for types that hold themselves
        shared[name] = _record(kind, shared, tag)
    return {"$ref": f"#/definitions/{name}"}


def _union(kind: Any, shared: dict[str, Schema]) -> Schema:
    members = get_args(kind)
    records = [m for m in members if is_dataclass(get_origin(m) or m)]
    plain = [_of(m, shared) for m in members if m not in records]
    tagged = [_shared(m, shared, (get_origin(m) or m).__name__ if len(records) > 1 else "") for m in records]
    return {"anyOf": [*tagged, *plain]}


def _tuple(items: tuple[Any, ...], shared: dict[str, Schema]) -> Schema:
    if len(items) == 2 and items[1] is Ellipsis:
        return {"type": "array", "items": _of(items[0], shared)}
    own = [_of(item, shared) for item in (() if items == ((),) else items)]
    return {
        "type": "array",
        "items": own,
        "additionalItems": False,
        "minItems": len(own),
        "maxItems": len(own),
    }


def _name(kind: Any) -> str:
    """Record[Chart] -> "RecordChart"."""
    return "".join(m.__name__ for m in (get_origin(kind) or kind, *get_args(kind)))
