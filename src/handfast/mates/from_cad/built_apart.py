"""What is built apart, as far as a drawing says so: the mates of each group, and what keeps them together."""

from __future__ import annotations

from dataclasses import replace

from handfast.mates.from_cad.contacts import Contact
from handfast.mates.from_cad.drawn_groups import DrawnGroup
from handfast.mates.from_cad.guess import GuessedGroup, GuessedMate
from handfast.mates.from_cad.placed import Placed

_FIRM = ("press", "screw")


def guessed_groups(
    parts: tuple[Placed, ...], groups: tuple[DrawnGroup, ...], mates: list[GuessedMate], names: list[str]
) -> tuple[GuessedGroup, ...]:
    """Each with the mates of its own parts, but for those of groups in it. names: of the groups, in order."""
    by_part = {m.mate.part: m.mate.name for m in mates if m.mate.pairs}
    found = []
    for group, name in zip(groups, names, strict=True):
        within = [g for g in groups if g.members < group.members]
        own = group.members - {group.base} - frozenset[int]().union(*(g.members - {g.base} for g in within))
        inside = {parts[i].name for i in own}
        done = tuple(m.mate.name for m in mates if m.mate.part in inside and m.mate.part in by_part)
        found.append(GuessedGroup(name, parts[group.base].name, done))
    return tuple(found)


def kept_together(
    parts: tuple[Placed, ...],
    found: tuple[Contact, ...],
    groups: tuple[DrawnGroup, ...],
    mates: list[GuessedMate],
) -> list[GuessedMate]:
    """The mates with what a group asks of them: that nothing falls out of it on the way, and that its base
    alone says where it goes."""
    index = {p.name: k for k, p in enumerate(parts)}
    out = []
    for m in mates:
        part = index[m.mate.part]
        joins = next((g for g in groups if g.base == part), None)
        if joins is not None:
            m = _with_others(m, _others_located(parts, found, joins))  # noqa: PLW2901
        inside = [g for g in groups if part in g.members and part != g.base]
        out.append(_stays(m, max(inside, key=lambda g: len(g.members)), index, mates) if inside else m)
    return out


def _others_located(parts: tuple[Placed, ...], found: tuple[Contact, ...], group: DrawnGroup) -> list[str]:
    """Members beside the base that fit to something outside."""
    outside = [(i, c) for c in found for i in (c.a, c.b) if i in group.members - {group.base}]
    return sorted(
        {
            parts[i].name
            for i, c in outside
            if c.other(i) not in group.members
            and c.kind in ("round", "slot", "gear")
            and not parts[i].is_a("screw")
            and not parts[c.other(i)].is_a("screw")
        }
    )


def _with_others(m: GuessedMate, others: list[str]) -> GuessedMate:
    if not others:
        return m
    words = (
        f"{', '.join(others)} of the same sub-assembly fit as well: only pairs of {m.mate.part} are written"
    )
    return replace(m, questions=(*m.questions, ("pairs", words)))


def _stays(m: GuessedMate, group: DrawnGroup, index: dict[str, int], mates: list[GuessedMate]) -> GuessedMate:
    """A part that neither its fit nor a screw keeps in is taken to stay by itself, and that is asked."""
    clamped = any(
        o.mate.kind in _FIRM
        and index[o.mate.part] in group.members
        and m.mate.part in o.mate.clamps
        and o.mate.into != m.mate.part
        for o in mates
    )
    if m.mate.kind in _FIRM or clamped or not m.mate.pairs:
        return m
    words = f"does it stay in by itself while {group.name} is carried (a snap, adhesive)? Else press it in"
    return replace(m, mate=replace(m.mate, stays=True), questions=(*m.questions, ("stays", words)))
