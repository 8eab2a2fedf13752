"""A feature as product.yaml has it, for comparing drawings: where it is, which way it looks, how large."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import numpy as np

from handfast.spatial.se3 import Array
from handfast.spatial.units import DIMENSIONS
from handfast.standards.threads import coarse_thread

Values = dict[str, Any]
_AXES = {"x": (1.0, 0.0, 0.0), "y": (0.0, 1.0, 0.0), "z": (0.0, 0.0, 1.0)}
_FAMILY = {"hole": "hole", "thread": "hole", "shaft": "shaft", "slot": "slot"}


@dataclass(frozen=True, eq=False, slots=True)
class WrittenFeature:
    """name; family: kinds that may turn into each other, such as a hole and its thread; at [m]; z: unit;
    size: what it is known by [m]."""

    name: str
    family: str
    at: Array
    z: Array
    size: tuple[float, ...]


def written_feature(name: str, values: Values) -> WrittenFeature:
    """From the parsed entry. Raises ValueError, KeyError or TypeError for what is no feature."""
    kind = str(values["kind"])
    family = "screw" if kind == "thread" and values.get("external") else _FAMILY.get(kind, kind)
    if kind == "thread":
        table = coarse_thread(str(values["thread"]))
        size: tuple[float, ...] = (table.diameter - table.pitch if family == "hole" else table.diameter,)
    else:
        size = tuple(length(values[k]) for k in ("diameter", "module") if k in values)
        size += tuple(sorted(length(v) for v in values.get("size", ())))
    return WrittenFeature(
        name, family, np.array([length(v) for v in values["at"]]), _z(values["z_along"]), size
    )


def length(written: Any) -> float:
    """Such as `8 mm` [m]. Raises ValueError."""
    found = re.fullmatch(r"\s*([-+0-9.eE]+)\s*([a-z]+)\s*", str(written))
    if found is None or found[2] not in DIMENSIONS["length"]:
        raise ValueError(f"expected a length, found {written!r}")
    return float(found[1]) * DIMENSIONS["length"][found[2]]


def _z(written: Any) -> Array:
    if isinstance(written, str):
        sign = -1.0 if written.startswith("-") else 1.0
        return sign * np.array(_AXES[written.lstrip("+-")])
    v = np.array([float(x) for x in written])
    return np.asarray(v / np.linalg.norm(v))
