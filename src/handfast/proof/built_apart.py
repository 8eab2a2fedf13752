"""What is built apart, turned over or held in a hand: what is due before a mate, and on what it stands."""

from __future__ import annotations

from handfast.model.mate import Mate
from handfast.model.product import Product
from handfast.proof.standing import Standing


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


def why_not_standing(mate: Mate, standing: Standing) -> str:
    """What is wrong with where the part that a mate goes into stands, or nothing."""
    item = mate.into
    seen: set[str] = set()
    while item not in seen and standing.parents.get(item, ("",))[0].startswith("part."):
        seen.add(item)
        item = standing.parents[item][0].removeprefix("part.")
    where = standing.parents.get(item, ("nowhere",))[0]
    if mate.stands is None or where == mate.stands:
        return ""
    return f"{item!r} is to stand at {mate.stands} meanwhile and is at {where}"


def taken_as_firm(product: Product) -> tuple[str, ...]:
    """For the proof to state: parts that stay in because the project says so, and hands that hold still."""
    out = []
    parts = [mate.part for mate in product.mates if mate.stays]
    if parts:
        stay = "taken to stay in, however what they are in is carried, as the project says"
        out.append(f"{', '.join(parts)}: {stay}")
    held = {
        (m.stands, m.into) for m in product.mates if m.stands is not None and m.stands.startswith("hand.")
    }
    for where, into in sorted(held):
        out.append(f"{into}: held by the {where[5:]} hand while it is built on, which is taken not to yield")
    return tuple(out)
