"""A sub-assembly as a product of its own, in the same cell."""

from __future__ import annotations

from dataclasses import replace

from handfast.checking.check import check
from handfast.checking.checked_project import CheckedProject


def part_of_product(checked: CheckedProject, name: str) -> CheckedProject:
    """The project with the mates of one sub-assembly alone; everything else stays where it lies at the start.

    Raises ValueError for a sub-assembly that it does not have, or that breaks a rule by itself.
    """
    product = checked.project.product
    found = next((s for s in product.subassemblies if s.name == name), None)
    if found is None:
        known = ", ".join(s.name for s in product.subassemblies) or "none"
        raise ValueError(
            f"expected a sub-assembly of {checked.project.name}, found {name!r}; it has: {known}"
        )
    alone = replace(
        product,
        base=found.base,
        mates=tuple(m for m in product.mates if m.name in found.mates),
        subassemblies=(),
        tightenings=tuple(t for t in product.tightenings if set(t.screws) <= set(found.mates)),
    )
    verdict = check(replace(checked.project, product=alone))
    if not isinstance(verdict, CheckedProject):
        raise ValueError(f"{name} by itself: {verdict[0].expected}, found {verdict[0].found}")
    return verdict
