"""What the search orders: a mate, or a whole tightening pattern."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.mates.subassemblies import built_there, done_first
from handfast.model.mate import Mate
from handfast.model.product import Product
from handfast.model.tightening import Tightening
from handfast.planning.route import Route


@dataclass(frozen=True, slots=True)
class Unit:
    """Mates done together: one, or the screws of a pattern. parts: what they bring home. first: mates that
    come before for the sake of sub-assemblies; apart: mates that bring home what these are built on, and come
    after all the same."""

    name: str
    mates: tuple[Mate, ...]
    pattern: Tightening | None = None
    first: frozenset[str] = frozenset()
    apart: frozenset[str] = frozenset()

    @property
    def parts(self) -> tuple[str, ...]:
        """The parts that the unit brings home."""
        return tuple(m.part for m in self.mates)

    @property
    def tool(self) -> str | None:
        """The tool it takes, if any."""
        return self.mates[0].tool


def units_of(product: Product) -> tuple[Unit, ...]:
    """Units in the order of the file; a pattern stands where its first screw does."""
    patterns = {screw: t for t in product.tightenings for screw in t.screws}
    out: list[Unit] = []
    for mate in product.mates:
        pattern = patterns.get(mate.name)
        if pattern is None:
            out.append(_unit(product, mate.name, (mate,)))
        elif all(u.pattern is not pattern for u in out):
            out.append(_unit(product, pattern.name, tuple(product.mate(s) for s in pattern.screws), pattern))
    return tuple(out)


def _unit(product: Product, name: str, mates: tuple[Mate, ...], pattern: Tightening | None = None) -> Unit:
    first = frozenset().union(*(done_first(product, m) for m in mates))
    apart = frozenset().union(*(built_there(product, m) for m in mates))
    return Unit(name, mates, pattern, first, apart)


def needs(unit: Unit, units: tuple[Unit, ...]) -> set[str]:
    """Units that must be done before this one: their parts are what it is joined to, or its mates say so."""
    return _needs(unit, _Bringing(units))


def all_needs(units: tuple[Unit, ...]) -> dict[str, set[str]]:
    """The same of every unit."""
    bringing = _Bringing(units)
    return {u.name: _needs(u, bringing) for u in units}


class _Bringing:
    """The units that bring home a part, and the one of a mate."""

    def __init__(self, units: tuple[Unit, ...]) -> None:
        self.part: dict[str, list[Unit]] = {}
        self.mate: dict[str, list[Unit]] = {}
        for u in units:
            for m in u.mates:
                self.part.setdefault(m.part, []).append(u)
                self.mate.setdefault(m.name, []).append(u)


def _needs(unit: Unit, bringing: _Bringing) -> set[str]:
    joined = {p for m in unit.mates for p in m.joined}
    named = {n for m in unit.mates for n in m.needs} | unit.first
    brought = [u for p in joined for u in bringing.part.get(p, ()) if not names(u) & unit.apart]
    said = [u for n in named for u in bringing.mate.get(n, ())]
    return {u.name for u in (*brought, *said) if u is not unit}


def names(unit: Unit) -> set[str]:
    """Of its mates."""
    return {m.name for m in unit.mates}


def retained_by(unit: Unit, units: tuple[Unit, ...]) -> str | None:
    """The unit until which this unit's part is held by a hand, None if it stays by itself."""
    until = unit.mates[0].held_until
    return next((u.name for u in units if until in {m.name for m in u.mates}), None) if until else None


def routes_of(unit: Unit, hands: tuple[str, ...], set_downs: bool) -> tuple[Route, ...]:
    """Every route of a unit, the cheapest first."""
    if unit.tool is not None:
        return tuple(Route("tool", (h,)) for h in hands)
    direct = [Route("direct", (h,)) for h in hands]
    passed = [Route("handover", (a, b)) for a in hands for b in hands if a != b]
    put = [Route("set-down", (a, b)) for a in hands for b in hands] if set_downs else []
    return tuple(direct + passed + put)
