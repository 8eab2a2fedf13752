"""Random records of any type, from the types of their fields alone."""

from __future__ import annotations

import types
from dataclasses import fields, is_dataclass
from typing import Any, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

import numpy as np

WORDS = ("pin", "cover-on-block", "left", "Müller", 'a "quoted" name', "", "\u2028", "x.y")


def any_of(kind: Any, rng: np.random.Generator, bound: dict[Any, Any] | None = None) -> Any:
    """A random value of that type; unions and optional fields take each of their forms now and then."""
    bound = bound or {}
    if isinstance(kind, TypeVar):
        return any_of(bound[kind], rng)
    origin = get_origin(kind)
    if origin is Literal:
        return get_args(kind)[rng.integers(len(get_args(kind)))]
    if origin in (Union, types.UnionType):
        return any_of(get_args(kind)[rng.integers(len(get_args(kind)))], rng, bound)
    if origin is tuple:
        return _any_tuple(get_args(kind), rng, bound)
    record = origin or kind
    if is_dataclass(record):
        hints = get_type_hints(record)
        inner = dict(zip(getattr(record, "__parameters__", ()), get_args(kind), strict=False))
        values = {f.name: any_of(hints[f.name], rng, inner) for f in fields(record)}
        return record(**values)  # type: ignore[operator]  # a dataclass is called to make one
    return _any_plain(kind, rng)


def _any_tuple(items: tuple[Any, ...], rng: np.random.Generator, bound: dict[Any, Any]) -> tuple[Any, ...]:
    if len(items) == 2 and items[1] is Ellipsis:
        return tuple(any_of(items[0], rng, bound) for _ in range(rng.integers(3)))
    return tuple(any_of(item, rng, bound) for item in items)


def _any_plain(kind: Any, rng: np.random.Generator) -> Any:
    if kind is float:
        # All magnitudes, and the awkward ones among them.
        awkward = (0.0, -0.0, 1.0, 0.1, 1 / 3, 5e-324, 1.7976931348623157e308, -1e-7, 2.0**53)
        return float(
            rng.choice(awkward) if rng.random() < 0.3 else rng.normal() * 10.0 ** rng.integers(-12, 12)
        )
    if kind is int:
        return int(rng.integers(-(2**40), 2**40))
    if kind is bool:
        return bool(rng.integers(2))
    return None if kind is type(None) else WORDS[rng.integers(len(WORDS))]
