"""A unit carried out by one route: from the search's choice to elements."""

from __future__ import annotations

from collections.abc import Container, Iterator

from handfast.planning.failure import Failure
from handfast.planning.leg import Leg
from handfast.planning.route import Route
from handfast.planning.routes import carry
from handfast.planning.stand import stood
from handfast.planning.stream import stream
from handfast.planning.tighten import tighten
from handfast.planning.unit import Unit
from handfast.planning.workspace import Workspace


def realise(
    ws: Workspace,
    leg: Leg,
    unit: Unit,
    route: Route,
    keep_tool: bool,
    seed: int,
    spent: Container[object] = (),
) -> Iterator[Leg | Failure]:
    """Legs that do one unit by one route from where things stand, what it is built on brought to where it
    is to stand, parts that it retains let go at its end. spent: grasps that no more legs are wanted with, to
    which the caller may add."""
    own = stream(seed, unit.name)
    for ready in stood(ws, leg, unit.mates[0], own):
        if isinstance(ready, Failure):
            yield ready
        elif route.kind == "tool":
            yield from tighten(ws, ready, unit, route.last, keep_tool, own)
        else:
            yield from carry(ws, ready, unit.mates[0], route, own, spent)
