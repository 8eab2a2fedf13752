"""Sub-assemblies: whole, apart from one another, and such that nothing falls out when they are carried."""

from __future__ import annotations

from collections.abc import Iterator

from handfast.checking.built_apart import joining, mates_within, parts_within, root_of
from handfast.checking.case import Case, Rule
from handfast.files.nearest import listed
from handfast.files.position import Path
from handfast.model.finding import Finding
from handfast.model.mate import Mate
from handfast.model.subassembly import Subassembly

_FIRM = ("press", "screw")


def whole(case: Case) -> Iterator[Finding]:
    """A base that goes nowhere, mates that belong to two, mates to parts that are elsewhere by then."""
    product, owner = case.project.product, dict[str, str]()
    for sub in product.subassemblies:
        path: Path = ("product", "subassemblies", sub.name)
        if sub.base == product.base or joining(case, sub) is None:
            found = (
                "the base of the product" if sub.base == product.base else f"{sub.base!r}, which none does"
            )
            yield case.finding("subassembly-whole", (*path, "base"), "a part that a mate brings home", found)
        for name in sub.mates:
            if owner.setdefault(name, sub.name) != sub.name:
                yield case.finding(
                    "subassembly-whole", (*path, "mates"), "each mate in one sub-assembly",
                    f"{name!r}, which {owner[name]!r} has already", "leave it out of one of them",
                )  # fmt: skip
        yield from _to_its_own(case, sub, path)
        yield from _split(case, sub, path)


def _to_its_own(case: Case, sub: Subassembly, path: Path) -> Iterator[Finding]:
    parts = parts_within(case, sub)
    for mate in case.project.product.mates:
        foreign = [p for p in mate.joined if p not in parts and case.part(p) is not None]
        if mate.name in sub.mates and mate.part != sub.base and foreign:
            yield case.finding(
                "subassembly-whole", (*path, "mates"), f"mates to its own parts: {listed(sorted(parts))}",
                f"{mate.name!r}, which goes to {foreign[0]!r}",
                f"do {mate.name!r} after the sub-assembly is joined: leave it out here",
            )  # fmt: skip


def _split(case: Case, sub: Subassembly, path: Path) -> Iterator[Finding]:
    for pattern in case.project.product.tightenings:
        inside = [name for name in pattern.screws if name in sub.mates]
        if inside and len(inside) < len(pattern.screws):
            yield case.finding(
                "subassembly-whole", (*path, "mates"), f"all screws of {pattern.name!r}, or none",
                f"{listed(inside)} alone",
            )  # fmt: skip


def loose(case: Case) -> Iterator[Finding]:
    """Parts that would fall out while what they are in is carried or turned over."""
    product = case.project.product
    for sub in product.subassemblies:
        within = mates_within(case, sub)
        for mate in product.mates:
            if mate.name in within and not _stays(case, mate, within):
                yield _falls_out(case, mate, f"while {sub.name!r} is carried")
    for i, mate in enumerate(product.mates):
        kept, root = _until_moved(case, i), root_of(case, mate)
        if kept is not None and not _stays(case, mate, kept):
            yield _falls_out(case, mate, f"when {root!r} is taken elsewhere after it")


def _until_moved(case: Case, i: int) -> set[str] | None:
    """Mates that may keep in what a mate brings home, before its root is taken elsewhere; None if it is not
    taken elsewhere after that mate."""
    product = case.project.product
    mate = product.mates[i]
    own = [(k, m) for k, m in enumerate(product.mates) if root_of(case, m) == root_of(case, mate)]
    if len({m.stands for _, m in own if m.stands is not None}) < 2:
        return None
    if not product.order_given:
        return {m.name for _, m in own}
    stands = next((m.stands for k, m in reversed(own) if k <= i and m.stands is not None), None)
    moved = [k for k, m in own if k > i and m.stands not in (None, stands)]
    return {m.name for k, m in own if k < moved[0]} if moved else None


def _falls_out(case: Case, mate: Mate, when: str) -> Finding:
    return case.finding(
        "loose-when-carried",
        ("product", "mates", mate.name),
        f"what keeps {mate.part!r} in {when}",
        f"a mate of kind {mate.kind}, and nothing done by then that clamps it",
        "press it in, clamp it by a screw before that, or write `stays: true` where it stays by itself "
        "(a snap, adhesive)",
    )


def _stays(case: Case, mate: Mate, within: set[str]) -> bool:
    """Whether a part stays in: by its own fit, by the engineer's word, or clamped to something else."""
    return (
        mate.stays
        or mate.kind in _FIRM
        or any(
            other.name in within
            and other.kind in _FIRM
            and mate.part in other.clamps
            and other.into != mate.part
            for other in case.project.product.mates
        )
    )


def standing(case: Case) -> Iterator[Finding]:
    """Places that are for something else, and mates of one unit that want two things."""
    for mate in case.project.product.mates:
        kind, _, name = (mate.stands or "").partition(".")
        root = root_of(case, mate)
        for holder in case.project.cell.holders:
            for place in holder.places:
                if (
                    kind == "place"
                    and name == f"{holder.name}.{place.name}"
                    and root not in (place.holds, place.takes)
                ):
                    yield case.finding(
                        "stands-elsewhere", ("product", "mates", mate.name, "stands"),
                        f"a place that holds or takes {root!r}", f"{name}, which does not",
                        f"add `takes: {root}` to {name}",
                    )  # fmt: skip
    for pattern in case.project.product.tightenings:
        wanted = {m.stands for m in case.project.product.mates if m.name in pattern.screws}
        if len(wanted) > 1:
            yield case.finding(
                "stands-elsewhere", ("product", "tightenings", pattern.name, "screws"),
                "screws that are driven where the product stands in one place", "several places",
            )  # fmt: skip


RULES = (
    Rule(
        "subassembly-whole",
        "A sub-assembly has a base that one mate brings home; its mates belong to no other and go to its own "
        "parts; a tightening pattern is done in it as a whole or not at all.",
        whole,
    ),
    Rule(
        "loose-when-carried",
        "A sub-assembly is carried as one body and may be tilted on its way: each part in it is pressed, "
        "screwed or clamped in, or `stays: true` says that it stays.",
        loose,
    ),
    Rule(
        "stands-elsewhere",
        "`stands: HOLDER.PLACE` names a place that holds or takes what the mate is built on; it is put there "
        "with its own frame on the frame of the place. All screws of a pattern want the same.",
        standing,
    ),
)
