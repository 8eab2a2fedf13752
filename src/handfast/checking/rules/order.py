"""Order: every part gets its place once, after what it goes to, and nothing waits for itself."""

from __future__ import annotations

from collections.abc import Iterator

from handfast.checking.built_apart import joining, mates_within, parts_within, sub_of
from handfast.checking.case import Case, Rule
from handfast.files.position import Path
from handfast.model.finding import Finding
from handfast.model.mate import Mate


def once(case: Case) -> Iterator[Finding]:
    """The base that moves, parts that go home twice, parts that never do."""
    product = case.project.product
    by_part: dict[str, str] = {}
    for mate in product.mates:
        path = ("product", "mates", mate.name, "part")
        if mate.part == product.base:
            yield case.finding("mated-once", path, "a part that is not the base", f"the base {mate.part!r}")
        elif mate.part in by_part:
            found = f"{mate.part!r}, which {by_part[mate.part]!r} already brings home"
            yield case.finding("mated-once", path, "each part in one mate", found)
        by_part.setdefault(mate.part, mate.name)
        if mate.into == mate.part or any(p.fixed_part == mate.part for p in mate.pairs):
            yield case.finding(
                "mated-once", path, "a part that goes to another one", "a part that goes to itself"
            )
    if any(p[:2] == ("product", "mates") for p in case.broken):
        return
    for part in product.parts:
        if part.name != product.base and part.name not in by_part:
            yield case.finding(
                "never-mated",
                ("product", "parts", part.name),
                "a mate that brings it home",
                "none",
                "",
                "warning",
            )


def waits(case: Case) -> dict[str, dict[str, Path]]:
    """By mate: the mates that must be done before it, each with where that was written."""
    product = case.project.product
    brings = {m.part: m.name for m in reversed(product.mates)}
    before: dict[str, dict[str, Path]] = {m.name: {} for m in product.mates}
    for mate in product.mates:
        path = ("product", "mates", mate.name)
        for name, where in _named_before(mate, brings, path):
            if name in before and name != mate.name:
                before[mate.name].setdefault(name, where)
        _apart(case, mate, before)
        if mate.held_until in before and mate.held_until != mate.name:
            before[mate.held_until].setdefault(mate.name, (*path, "held_until"))
    return before


def _apart(case: Case, mate: Mate, before: dict[str, dict[str, Path]]) -> None:
    """What a mate waits for because of sub-assemblies: not for the base that it is built on to be home, but
    for all of one that it brings home, and for those that it is joined to."""
    own = sub_of(case, mate.name)
    joins = joining(case, own) if own is not None else None
    if joins is not None and mate.name != joins.name:
        before[mate.name].pop(joins.name, None)
    for sub in case.project.product.subassemblies:
        joins = joining(case, sub)
        if joins is None:
            continue
        if joins.name == mate.name:
            for name in sub.mates:
                if name in before and name != mate.name:
                    before[mate.name].setdefault(name, ("product", "subassemblies", sub.name, "mates"))
        elif mate.name not in mates_within(case, sub) and parts_within(case, sub) & set(mate.joined):
            before[mate.name].setdefault(joins.name, ("product", "mates", mate.name, "pairs"))


def _named_before(mate: Mate, brings: dict[str, str], path: Path) -> Iterator[tuple[str, Path]]:
    for name in mate.needs:
        yield name, (*path, "needs")
    for i, pair in enumerate(mate.pairs):
        yield brings.get(pair.fixed_part, ""), (*path, "pairs", str(i), "fixed")
    yield brings.get(mate.into, ""), (*path, "into")
    for part in mate.clamps:
        yield brings.get(part, ""), (*path, "clamps")


def cycles(case: Case) -> Iterator[Finding]:
    """Mates that wait for themselves, directly or around a corner."""
    for mate in case.project.product.mates:
        for key, names in (("needs", mate.needs), ("held_until", (mate.held_until,))):
            if mate.name in names:
                where = ("product", "mates", mate.name, key)
                yield case.finding("order-cycle", where, "another mate", f"{mate.name!r} itself")
    before, seen = waits(case), set[frozenset[str]]()
    for start in before:
        ring = _ring(start, before)
        if ring and frozenset(ring) not in seen:
            seen.add(frozenset(ring))
            path = before[ring[0]][ring[1]]
            found = " waits for ".join([*ring, ring[0]])
            yield case.finding("order-cycle", path, "mates that can be done one after another", found)


def _ring(start: str, before: dict[str, dict[str, Path]]) -> list[str]:
    """The shortest way from a mate along what it waits for back to itself; [] if there is none."""
    came: dict[str, str] = {}
    front = [start]
    while front:
        reached = []
        for name in front:
            for earlier in before[name]:
                if earlier == start:
                    ring = [name]
                    while ring[0] != start:
                        ring.insert(0, came[ring[0]])
                    return ring
                if earlier not in came:
                    came[earlier] = name
                    reached.append(earlier)
        front = reached
    return []


def given_order(case: Case) -> Iterator[Finding]:
    """A given order that does one mate before another that it waits for."""
    product = case.project.product
    if not product.order_given:
        return
    rank = {m.name: i for i, m in enumerate(product.mates)}
    for name, earlier in waits(case).items():
        for other, path in earlier.items():
            if rank[other] > rank[name]:
                expected = f"{other!r} before {name!r}"
                yield case.finding(
                    "order-given", path, expected, "the other way round", "write the mates in order"
                )


RULES = (
    Rule("mated-once", "Every part but the base goes home in exactly one mate, to another part.", once),
    Rule("never-mated", "A part that no mate brings home stays where it lies: said as a warning."),
    Rule(
        "order-cycle",
        "Some order of the mates must respect needs, held_until and what each part goes to.",
        cycles,
    ),
    Rule(
        "order-given",
        "`order: given` does the mates as they are written, so that order must be possible.",
        given_order,
    ),
)
