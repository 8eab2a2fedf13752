"""Names refer to things that exist, and are told apart."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from handfast.checking.case import Case, Rule
from handfast.model.finding import Finding
from handfast.model.mate import Mate

_PARTS, _MATES = ("product", "parts"), ("product", "mates")
_ARMS, _TOOLS = ("cell", "arms"), ("cell", "tools")


def unknown_names(case: Case) -> Iterator[Finding]:
    """Everything named in the product and the cell."""
    parts = [p.name for p in case.project.product.parts]
    yield from case.unknown(("product", "base"), case.project.product.base, "a part", parts, _PARTS)
    for mate in case.project.product.mates:
        yield from _of_mate(case, mate)
    mates = [m.name for m in case.project.product.mates]
    for group in case.project.product.subassemblies:
        path = ("product", "subassemblies", group.name)
        yield from case.unknown((*path, "base"), group.base, "a part", parts, _PARTS)
        for name in group.mates:
            yield from case.unknown((*path, "mates"), name, "a mate", mates, _MATES)
    yield from _of_cell(case)


def _of_mate(case: Case, mate: Mate) -> Iterator[Finding]:
    parts = [p.name for p in case.project.product.parts]
    mates = [m.name for m in case.project.product.mates]
    tools = [t.name for t in case.project.cell.tools]
    path = (*_MATES, mate.name)
    for key, name in (("part", mate.part), ("into", mate.into), *(("clamps", c) for c in mate.clamps)):
        yield from case.unknown((*path, key), name, "a part", parts, _PARTS)
    for key, name in (("needs", n) for n in mate.needs):
        yield from case.unknown((*path, key), name, "a mate", mates, _MATES)
    if mate.held_until is not None:
        yield from case.unknown((*path, "held_until"), mate.held_until, "a mate", mates, _MATES)
    if mate.tool is not None:
        yield from case.unknown((*path, "tool"), mate.tool, "a tool", tools, _TOOLS)
    if mate.stands is not None:
        kind, _, name = mate.stands.partition(".")
        places = [f"{h.name}.{p.name}" for h in case.project.cell.holders for p in h.places]
        arms = [a.name for a in case.project.cell.arms]
        if kind == "hand":
            yield from case.unknown((*path, "held_by"), name, "an arm", arms, _ARMS)
        elif not any(p[:2] == ("cell", "holders") for p in case.broken):
            yield from case.unknown((*path, "stands"), name, "a place", places)
    for i, pair in enumerate(mate.pairs):
        at = (*path, "pairs", str(i))
        yield from _feature(case, (*at, "moving"), mate.part, pair.moving)
        yield from case.unknown((*at, "fixed"), pair.fixed_part, "a part", parts, _PARTS)
        yield from _feature(case, (*at, "fixed"), pair.fixed_part, pair.fixed)
    for key, faces in (("touch", mate.touches), ("no_touch", mate.untouchable)):
        for i, (part, face) in enumerate(faces):
            touch = (*path, key, str(i), "face")
            yield from case.unknown(touch, part, "a part", parts, _PARTS)
            yield from _feature(case, touch, part, face)


def _feature(case: Case, path: tuple[str, ...], part: str, name: str) -> Iterator[Finding]:
    owner = case.part(part)
    if owner is not None:
        known = [f.name for f in owner.features]
        yield from case.unknown(path, name, f"a feature of {part}", known, (*_PARTS, part, "features"))


def _of_cell(case: Case) -> Iterator[Finding]:
    cell = case.project.cell
    arms = [a.name for a in cell.arms]
    items = [item.name for _, item in case.items()]
    for kind, carried in (("grippers", cell.grippers), ("force_sensors", cell.force_sensors)):
        for thing in carried:
            yield from case.unknown(("cell", kind, thing.name, "arm"), thing.arm, "an arm", arms, _ARMS)
    for arm in cell.arms:
        if arm.measured_from:
            others = [a.name for a in cell.arms if a.name != arm.name and not a.measured_from]
            where = ("cell", "arms", arm.name, "measured_from")
            what = "another arm that stands by itself"
            yield from case.unknown(where, arm.measured_from, what, others, _ARMS)
    for holder in cell.holders:
        for place in holder.places:
            at = ("cell", "holders", holder.name, "places", place.name, "holds")
            if place.holds is not None:
                yield from case.unknown(at, place.holds, "a part or tool", items, _PARTS, _TOOLS)
            if place.takes is not None:
                parts = [p.name for p in case.project.product.parts]
                yield from case.unknown((*at[:-1], "takes"), place.takes, "a part", parts, _PARTS)


def taken_names(case: Case) -> Iterator[Finding]:
    """Parts and tools lie about together, so they share their names; a dot would split a name."""
    count = Counter(item.name for _, item in case.items())
    for path, item in case.items():
        if count[item.name] > 1:
            yield case.finding(
                "name-taken", path, "a part and a tool with names of their own", repr(item.name)
            )
    cell = case.project.cell
    named = [path for path, _ in case.items()]
    named += [(*path, "features", f.name) for path, item in case.items() for f in item.features]
    named += [(*_ARMS, a.name) for a in cell.arms] + [("cell", "grippers", g.name) for g in cell.grippers]
    named += [("cell", "holders", h.name) for h in cell.holders]
    named += [("cell", "holders", h.name, "places", p.name) for h in cell.holders for p in h.places]
    for path in named:
        if "." in path[-1] or not path[-1].strip():
            yield case.finding("name-form", path, "a name without a dot", repr(path[-1]), "write a hyphen")


RULES = (
    Rule("unknown-name", "Whatever is referred to by name must exist.", unknown_names),
    Rule(
        "name-taken",
        "Parts and tools need names that differ: both are told apart by name alone.",
        taken_names,
    ),
    Rule(
        "name-form",
        "Names of parts, features, tools, arms, grippers, holders and places have no dot in them: "
        "PART.FEATURE is written with one.",
    ),
)
