"""What a chart was planned from: by this a later plan sees what it may take over."""

from __future__ import annotations

from dataclasses import dataclass

Digests = tuple[tuple[str, str], ...]
"""sha256 of what the planning of something read, by name: ("part cover", ...)."""


@dataclass(frozen=True, slots=True)
class Done:
    """An element as it was planned, before it got its time: number in the chart; before_s, duration_s [s]."""

    number: int
    before_s: float
    duration_s: float


@dataclass(frozen=True, slots=True)
class PlannedUnit:
    """Elements that were planned together.

    name: of the unit; route: its kind, then its hands; keeps_tool: whether the hand kept the tool for the
    unit after it; done: its elements in the order in which they were planned; read: what that depended on.
    """

    name: str
    route: tuple[str, ...]
    keeps_tool: bool
    done: tuple[Done, ...]
    read: Digests


@dataclass(frozen=True, slots=True)
class Basis:
    """together: whether both hands work at once; units in order; way_home: elements after the last of them;
    stands: the shape and place of everything that may be in the way; rules: what every unit depends on."""

    together: bool
    units: tuple[PlannedUnit, ...]
    way_home: tuple[Done, ...]
    stands: Digests
    rules: Digests
