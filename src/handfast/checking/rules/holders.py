"""Everything lies somewhere at the start."""

from __future__ import annotations

from collections.abc import Iterator

from handfast.checking.case import Case, Rule
from handfast.files.nearest import listed
from handfast.model.finding import Finding


def places(case: Case) -> dict[str, list[str]]:
    """By part or tool: the places that hold it."""
    found: dict[str, list[str]] = {}
    for holder in case.project.cell.holders:
        for place in holder.places:
            if place.holds is not None:
                found.setdefault(place.holds, []).append(f"{holder.name}.{place.name}")
    return found


def nowhere(case: Case) -> Iterator[Finding]:
    """Parts and tools that lie in no holder."""
    if any(path[:2] == ("cell", "holders") for path in case.broken):
        return  # it may lie in one that could not be read
    held = places(case)
    for path, item in case.items():
        if item.name not in held:
            fix = f"add a place with `holds: {item.name}`"
            yield case.finding("in-no-holder", path, "a place that holds it at the start", "none", fix)


def twice(case: Case) -> Iterator[Finding]:
    """Parts and tools that lie in more than one place."""
    for path, item in case.items():
        where = places(case).get(item.name, [])
        if len(where) > 1:
            yield case.finding(
                "held-twice", path, "one place that holds it", listed(where), "keep one of them"
            )


RULES = (
    Rule(
        "in-no-holder",
        "Every part and tool lies in a tray, nest, presenter or stand at the start.",
        nowhere,
    ),
    Rule(
        "held-twice",
        "Every part and tool lies in one place at the start: there is one of each.",
        twice,
    ),
)
