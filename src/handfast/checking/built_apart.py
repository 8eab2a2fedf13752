"""What the sub-assemblies of a project hold, as far as their names can be trusted."""

from __future__ import annotations

from handfast.checking.case import Case
from handfast.model.mate import Mate
from handfast.model.subassembly import Subassembly


def joining(case: Case, sub: Subassembly) -> Mate | None:
    """The mate that brings a sub-assembly home."""
    return next((m for m in case.project.product.mates if m.part == sub.base), None)


def mates_within(case: Case, sub: Subassembly) -> set[str]:
    """Names of every mate done in a sub-assembly and in those that go into it, each once whatever goes round
    in a circle."""
    found: set[str] = set()
    waiting = [sub]
    while waiting:
        found |= set(waiting.pop().mates)
        for other in case.project.product.subassemblies:
            joins = joining(case, other)
            if joins is not None and joins.name in found and not set(other.mates) <= found:
                waiting.append(other)
    return found


def parts_within(case: Case, sub: Subassembly) -> set[str]:
    """Every part of it once it is whole."""
    mates = mates_within(case, sub)
    return {sub.base, *(m.part for m in case.project.product.mates if m.name in mates)}


def sub_of(case: Case, mate: str) -> Subassembly | None:
    """The sub-assembly that a mate is done in."""
    return next((s for s in case.project.product.subassemblies if mate in s.mates), None)


def root_of(case: Case, mate: Mate) -> str:
    """The part that a mate is built on: the base of its sub-assembly, or of the product."""
    sub = sub_of(case, mate.name)
    return case.project.product.base if sub is None else sub.base


def stands_at(case: Case) -> dict[str, set[str]]:
    """By part that others are built on: where it is to stand or be held while they are."""
    found: dict[str, set[str]] = {}
    for mate in case.project.product.mates:
        if mate.stands is not None:
            found.setdefault(root_of(case, mate), set()).add(mate.stands)
    return found
