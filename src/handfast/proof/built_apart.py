"""What is due before a mate because parts were built apart from one another: from the project alone."""

from __future__ import annotations

from handfast.model.mate import Mate
from handfast.model.product import Product


def due_before(product: Product, mate: Mate) -> list[str]:
    """Mates of the sub-assembly that this one brings home, and the mate that brings home each sub-assembly
    that it is joined to from outside."""
    out: list[str] = []
    for group in product.subassemblies:
        if group.base == mate.part:
            out += group.mates
        inside = _inside(product, group.base)
        if mate.part not in inside and inside & set(mate.joined):
            out += [other.name for other in product.mates if other.part == group.base]
    return [name for name in dict.fromkeys(out) if name != mate.name]


def _inside(product: Product, base: str) -> set[str]:
    """The parts that belong to what is built on a base, with those of what is joined to it."""
    parts = {base}
    while True:
        own = {name for group in product.subassemblies if group.base in parts for name in group.mates}
        more = {mate.part for mate in product.mates if mate.name in own} - parts
        if not more:
            return parts
        parts |= more
