"""What is built apart: which mates come before which, and on what they stand meanwhile."""

from __future__ import annotations

from handfast.model.mate import Mate
from handfast.model.product import Product
from handfast.model.subassembly import Subassembly


def built_in(product: Product, mate: str) -> Subassembly | None:
    """The sub-assembly that a mate is done in, None if it is done on the product itself."""
    return next((s for s in product.subassemblies if mate in s.mates), None)


def joining(product: Product, sub: Subassembly) -> str | None:
    """The mate that brings a sub-assembly home."""
    return next((m.name for m in product.mates if m.part == sub.base), None)


def joined_by(product: Product, mate: Mate) -> Subassembly | None:
    """The sub-assembly that a mate brings home, None if it brings a single part."""
    return next((s for s in product.subassemblies if s.base == mate.part), None)


def all_mates(product: Product, sub: Subassembly) -> frozenset[str]:
    """Names of every mate done in a sub-assembly, and in those that go into it."""
    found = set(sub.mates)
    for other in product.subassemblies:
        if other is not sub and joining(product, other) in sub.mates:
            found |= all_mates(product, other)
    return frozenset(found)


def all_parts(product: Product, sub: Subassembly) -> frozenset[str]:
    """Every part of a sub-assembly once it is whole."""
    mates = all_mates(product, sub)
    return frozenset({sub.base, *(m.part for m in product.mates if m.name in mates)})


def stands_on(product: Product, mate: Mate) -> str:
    """The part that the mate is built on: the base of the product, or of its sub-assembly."""
    sub = built_in(product, mate.name)
    return product.base if sub is None else sub.base


def done_first(product: Product, mate: Mate) -> frozenset[str]:
    """Mates that come first for the sake of sub-assemblies: all of the one that it brings home, and those
    that bring home what it is joined to, where that was built apart from it."""
    own = joined_by(product, mate)
    found = set(own.mates) if own is not None else set()
    for sub in product.subassemblies:
        joins = joining(product, sub)
        inside = joins == mate.name or mate.name in all_mates(product, sub)
        if joins is not None and not inside and all_parts(product, sub) & set(mate.joined):
            found.add(joins)
    return frozenset(found)


def built_there(product: Product, mate: Mate) -> frozenset[str]:
    """Mates that bring home what it is joined to, and yet come after it: that of its sub-assembly's base."""
    sub = built_in(product, mate.name)
    joins = joining(product, sub) if sub is not None else None
    return frozenset({joins}) if joins is not None else frozenset()
