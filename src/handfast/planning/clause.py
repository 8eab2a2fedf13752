"""What was learned about a route, as the master takes it."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.planning.route import Route


@dataclass(frozen=True, slots=True)
class Clause:
    """A route of a unit that does not work when all of `present` are already done and none of `absent` is.
    proven: confirmed by re-testing; otherwise a search ran out of its cap."""

    unit: str
    route: Route
    present: frozenset[str]
    proven: bool
    absent: frozenset[str] = frozenset()
