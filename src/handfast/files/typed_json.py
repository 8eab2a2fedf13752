"""Records as plain JSON values and back, led by the types of their fields.

A dataclass becomes an object of its fields, a tuple a list, a Literal its value. Where a field may hold one
of several dataclasses the object also names its class under "is". Every float is written as the shortest text
that reads back as itself; -0.0 becomes 0.0, so that equal records have equal text.
"""

from __future__ import annotations

import math
import types
from dataclasses import MISSING, fields, is_dataclass
from functools import lru_cache
from itertools import chain
from typing import Any, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

from handfast.files.errors import UnreadableRecordError, UnwritableValueError

TAG = "is"
_UNIONS = (Union, types.UnionType)
_ROW = tuple[float, ...]


def to_json(value: Any, kind: Any, where: str = "record") -> Any:
    """The JSON value of a value of type `kind`. Raises UnwritableValueError, which names the place."""
    if kind is float and isinstance(value, float | int) and not isinstance(value, bool):
        return _finite(float(value), where)
    if kind in (int, str, bool, type(None)) and type(value) is kind:
        return value
    origin = get_origin(kind)
    if origin in _UNIONS:
        return _union_to_json(value, kind, where)
    if origin is Literal and value in get_args(kind):
        return value
    if origin is tuple and isinstance(value, tuple):
        return _tuple_to_json(value, kind, where)
    record = origin or kind
    if is_dataclass(record) and type(value) is record:
        hints = field_types(kind)
        return {name: to_json(getattr(value, name), t, f"{where}.{name}") for name, t in hints.items()}
    raise UnwritableValueError("", f"at {where} {_name(kind)}", repr(value)[:80])


def from_json(data: Any, kind: Any, where: str = "record") -> Any:
    """The value of type `kind` that `data` was made from. Raises UnreadableRecordError, with the place."""
    if kind is float and isinstance(data, float | int) and not isinstance(data, bool):
        return float(data)
    if kind in (int, str, bool, type(None)) and type(data) is kind:
        return data
    origin = get_origin(kind)
    if origin in _UNIONS:
        return _union_from_json(data, kind, where)
    if origin is Literal and isinstance(data, str | int) and data in get_args(kind):
        return data
    if origin is tuple and isinstance(data, list):
        return _tuple_from_json(data, kind, where)
    record = origin or kind
    if is_dataclass(record) and isinstance(record, type) and isinstance(data, dict):
        return _record_from_json(data, kind, record, where)
    raise UnreadableRecordError("", f"at {where} {_name(kind)}", repr(data)[:80])


@lru_cache(maxsize=512)
def field_types(kind: Any) -> dict[str, Any]:
    """The types of a dataclass's fields by name; of Record[Chart] the body is a Chart."""
    record = get_origin(kind) or kind
    hints = get_type_hints(record)
    filled = dict(zip(getattr(record, "__parameters__", ()), get_args(kind), strict=False))
    types_of = {f.name: hints[f.name] for f in fields(record)}
    return {n: filled.get(t, t) if isinstance(t, TypeVar) else t for n, t in types_of.items()}


def _finite(value: float, where: str) -> float:
    if not math.isfinite(value):
        raise UnwritableValueError("", f"at {where} a finite number", repr(value))
    return value + 0.0  # -0.0 + 0.0 is 0.0


def _item_types(kind: Any, count: int) -> tuple[Any, ...]:
    """The type of each item of a tuple; of the wrong number if it does not fit."""
    items = get_args(kind)
    if len(items) == 2 and items[1] is Ellipsis:
        return (items[0],) * count
    return () if items == ((),) else items


def _are_floats(values: tuple[Any, ...] | list[Any], kind: Any) -> bool:
    """True for what nearly all of a chart is: floats alone, as many as there are. Spares a call for each."""
    return get_args(kind) == (float, ...) and set(map(type, values)) <= {float}


def _are_rows(value: tuple[Any, ...], kind: Any) -> bool:
    """The same for rows of finite floats, which a chart has tens of thousands of."""
    if get_args(kind) != (_ROW, ...) or not set(map(type, value)) <= {tuple}:
        return False
    flat = list(chain.from_iterable(value))
    return set(map(type, flat)) <= {float} and all(map(math.isfinite, flat))


def _tuple_to_json(value: tuple[Any, ...], kind: Any, where: str) -> list[Any]:
    if _are_floats(value, kind) and all(map(math.isfinite, value)):
        return [v + 0.0 for v in value]
    if _are_rows(value, kind):
        return [[v + 0.0 for v in row] for row in value]
    items = _item_types(kind, len(value))
    if len(items) != len(value):
        raise UnwritableValueError("", f"at {where} {len(items)} values", f"{len(value)}")
    return [to_json(v, t, f"{where}[{i}]") for i, (v, t) in enumerate(zip(value, items, strict=True))]


def _tuple_from_json(data: list[Any], kind: Any, where: str) -> tuple[Any, ...]:
    if _are_floats(data, kind):
        return tuple(data)
    items = _item_types(kind, len(data))
    if len(items) != len(data):
        raise UnreadableRecordError("", f"at {where} {len(items)} values", f"{len(data)}")
    return tuple(from_json(v, t, f"{where}[{i}]") for i, (v, t) in enumerate(zip(data, items, strict=True)))


@lru_cache(maxsize=512)
def _records(kind: Any) -> dict[str, Any]:
    """The dataclasses among the members of a union, by name."""
    return {(get_origin(m) or m).__name__: m for m in get_args(kind) if is_dataclass(get_origin(m) or m)}


def _union_to_json(value: Any, kind: Any, where: str) -> Any:
    records = _records(kind)
    member = records.get(type(value).__name__)
    if member is not None:
        plain = to_json(value, member, where)
        return {TAG: type(value).__name__, **plain} if len(records) > 1 else plain
    for other in get_args(kind):
        if other not in records.values() and _fits(value, other):
            return to_json(value, other, where)
    raise UnwritableValueError("", f"at {where} {_name(kind)}", repr(value)[:80])


def _union_from_json(data: Any, kind: Any, where: str) -> Any:
    records = _records(kind)
    if isinstance(data, dict) and records:
        name = data.get(TAG) if len(records) > 1 else next(iter(records))
        if name not in records:
            raise UnreadableRecordError("", f"at {where} one of {', '.join(records)}", repr(name))
        return from_json({k: v for k, v in data.items() if k != TAG}, records[name], where)
    for other in get_args(kind):
        if other not in records.values() and _fits(tuple(data) if isinstance(data, list) else data, other):
            return from_json(data, other, where)
    raise UnreadableRecordError("", f"at {where} {_name(kind)}", repr(data)[:80])


def _fits(value: Any, kind: Any) -> bool:
    """Which member of a union a plain value belongs to. Records hold no union of two kinds of tuple."""
    if get_origin(kind) is tuple:
        return isinstance(value, tuple)
    if get_origin(kind) is Literal:
        return value in get_args(kind)
    return type(value) is kind or (kind is float and type(value) is int)


def _record_from_json(data: dict[str, Any], kind: Any, record: Any, where: str) -> Any:
    hints = field_types(kind)
    unknown = [name for name in data if name not in hints]
    lacking = [f.name for f in fields(record) if f.name not in data and _has_no_default(f)]
    if unknown or lacking:
        found = ", ".join([f"an unknown {n!r}" for n in unknown] + [f"no {n!r}" for n in lacking])
        raise UnreadableRecordError("", f"at {where} the fields of {record.__name__}", found)
    values = {n: from_json(v, hints[n], f"{where}.{n}") for n, v in data.items()}
    return record(**values)


def _has_no_default(field: Any) -> bool:
    return field.default is MISSING and field.default_factory is MISSING


def _name(kind: Any) -> str:
    return str(getattr(kind, "__name__", kind))
