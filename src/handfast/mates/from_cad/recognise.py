"""An assembly -> parts, mates, screws and tightening patterns, each with how sure and why."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

from handfast.geometry.cad.assembly import Assembly
from handfast.geometry.cad.find_features import find_features
from handfast.mates.from_cad.built_apart import guessed_groups, kept_together
from handfast.mates.from_cad.chosen_features import ChosenFeatures
from handfast.mates.from_cad.contact_pairs import LOOSE
from handfast.mates.from_cad.contacts import contacts
from handfast.mates.from_cad.drawn_groups import DrawnGroup, drawn_groups
from handfast.mates.from_cad.end_faces import add_end_faces, add_other_ends
from handfast.mates.from_cad.fastening import tightenings
from handfast.mates.from_cad.guess import Guessed, GuessedMate, GuessedPart
from handfast.mates.from_cad.mate_of_part import mate_of_part
from handfast.mates.from_cad.placed import Placed
from handfast.mates.from_cad.standard_part import standard_part
from handfast.mates.from_cad.stated import with_tolerances
from handfast.mates.from_cad.ways_out import Removal, removals
from handfast.model.mate import Mate
from handfast.spatial import se3
from handfast.spatial.se3 import Array

Progress = Callable[[str, int, int], None]
_STEEL, _LIGHT, _RUBBER = 7850.0, 2700.0, 1200.0  # kg/m3


def recognise(assembly: Assembly, base: str | None = None, progress: Progress | None = None) -> Guessed:
    """Everything that the drawing says and suggests. base: name of the part all is built on, else the
    largest.

    Raises ValueError if there is no part of that name.
    """
    said = progress or (lambda _what, _done, _of: None)
    parts = placed_parts(assembly, said)
    names = [p.name for p in parts]
    if base is not None and base not in names:
        raise ValueError(f"expected one of {', '.join(names)} as the base, found {base!r}")
    first = names.index(base) if base is not None else _largest(parts)
    parts = _in_frame_of(parts, first)
    said("contacts", 0, 3)
    found = contacts(parts)
    said("ways out", 1, 3)
    drawn, doubts = drawn_groups(parts, found, first)
    steps, groups = removals(parts, found, first, drawn)
    doubts = (*doubts, *(_not_whole(g) for g in drawn if g not in groups))
    said("mates", 2, 3)
    chosen = ChosenFeatures(parts)
    mates: list[GuessedMate] = []
    for step in reversed(steps):
        mates.append(mate_of_part(parts, found, step, chosen, first))
    mates = _in_order(parts, mates, steps, groups)
    mates, screwed = _held(parts, mates, chosen)
    mates = kept_together(parts, found, groups, mates)
    add_end_faces(parts, mates, chosen)
    add_other_ends(parts, mates, chosen)
    patterns = tightenings(screwed, {m.mate.name: m.mate.torque or 0.0 for m in mates})
    guessed = tuple(_part(p, chosen, k) for k, p in enumerate(parts))
    loose = [m for m in mates if not m.mate.pairs]
    no_mate = (f"{m.mate.part} has no mate: {m.why}; write one" for m in loose)
    kept = tuple(m for m in mates if m.mate.pairs)
    apart = guessed_groups(parts, groups, mates, part_names([g.name for g in groups]))
    return Guessed(names[first], guessed, kept, patterns, (*assembly.notes, *doubts, *no_mate), apart)


def _not_whole(group: DrawnGroup) -> str:
    return (
        f"{group.name} is drawn as a sub-assembly, but it cannot come off whole: its parts go in one by one"
    )


def placed_parts(assembly: Assembly, said: Progress) -> tuple[Placed, ...]:
    """Every use of a drawing with its features; names made fit for a project and unlike each other."""
    features = []
    for k, drawing in enumerate(assembly.drawings):
        said(f"features of {drawing.name}", k, len(assembly.drawings))
        features.append(with_tolerances(find_features(drawing.graph).features, drawing.tolerances))
    standards = [standard_part(f) for f in features]
    names = part_names([i.name for i in assembly.instances])
    meshes = part_names([d.name for d in assembly.drawings])
    return tuple(
        Placed(
            name, i.drawing, assembly.drawings[i.drawing].graph, i.T_assembly_part, features[i.drawing],
            standards[i.drawing], meshes[i.drawing], i.path,
        )
        for name, i in zip(names, assembly.instances, strict=True)
    )  # fmt: skip


def part_names(written: list[str]) -> list[str]:
    """Names without dots and blanks; equal ones numbered."""
    plain = [re.sub(r"[^A-Za-z0-9_-]+", "_", w).strip("_") or "part" for w in written]
    plain = [f"part_{p}" if p[0].isdigit() else p for p in plain]
    out: list[str] = []
    for k, name in enumerate(plain):
        wanted = f"{name}_{plain[: k + 1].count(name)}" if plain.count(name) > 1 else name
        while wanted in out:
            wanted += "_"
        out.append(wanted)
    return out


def _largest(parts: tuple[Placed, ...]) -> int:
    return max(range(len(parts)), key=lambda k: (round(parts[k].graph.volume, 12), -k))


def _in_frame_of(parts: tuple[Placed, ...], base: int) -> tuple[Placed, ...]:
    back = se3.inverse(parts[base].T_assembly_part)
    return tuple(replace(p, T_assembly_part=back @ p.T_assembly_part) for p in parts)


def _in_order(
    parts: tuple[Placed, ...],
    mates: list[GuessedMate],
    steps: tuple[Removal, ...],
    groups: tuple[DrawnGroup, ...],
) -> list[GuessedMate]:
    """Each mate after those whose parts it would shut out, unless it is joined to what they bring anyway."""
    by_part = {m.mate.part: m.mate for m in mates if m.mate.pairs}
    shuts_out: dict[str, list[str]] = {}
    for step in reversed(steps):
        for later in dict.fromkeys(_brought_by(k, step.part, groups) for k in sorted(step.barred_by)):
            shuts_out.setdefault(parts[later].name, []).append(parts[step.part].name)
    out = []
    for m in mates:
        first = [n for n in shuts_out.get(m.mate.part, ()) if n in by_part and n not in m.mate.joined]
        out.append(replace(m, mate=replace(m.mate, needs=_not_implied(first, m.mate, by_part))))
    return out


def _brought_by(part: int, other: int, groups: tuple[DrawnGroup, ...]) -> int:
    """The part whose mate brings a part to another one: the base of the outermost group without that
    other."""
    around = [g for g in groups if part in g.members and other not in g.members]
    return max(around, key=lambda g: len(g.members)).base if around else part


def _not_implied(first: list[str], mate: Mate, by_part: dict[str, Mate]) -> tuple[str, ...]:
    """Names of their mates, but for those that come before others of them, or before what it is joined
    to."""

    def before(part: str) -> set[str]:
        direct = set(by_part[part].joined) if part in by_part else set()
        return direct.union(*(before(p) for p in direct))

    implied = set[str]().union(*(before(p) for p in (*mate.joined, *first)))
    return tuple(by_part[p].name for p in first if p not in implied)


def _held(
    parts: tuple[Placed, ...], mates: list[GuessedMate], chosen: ChosenFeatures
) -> tuple[list[GuessedMate], dict[tuple[str, ...], dict[str, Array]]]:
    """Parts that screws clamp are held until the second screw, or the only one, unless they stay where they
    are put; the screws by what they clamp."""
    groups: dict[tuple[str, ...], dict[str, Array]] = {}
    where = {p.name: p.T_assembly_part[:3, 3] for p in parts}
    for m in mates:
        if m.mate.kind == "screw":
            groups.setdefault(m.mate.clamps, {})[m.mate.name] = where[m.mate.part]
    until: dict[str, str] = {}
    for clamped, screws in groups.items():
        order = list(screws)
        for part in clamped:
            until.setdefault(part, order[min(1, len(order) - 1)])
    held = [
        replace(m, mate=replace(m.mate, held_until=until[m.mate.part]))
        if m.mate.part in until and not _stays_put(parts, m.mate, chosen)
        else m
        for m in mates
    ]
    return held, groups


def _stays_put(parts: tuple[Placed, ...], mate: Mate, chosen: ChosenFeatures) -> bool:
    """Whether a part lies on a face, two pins or bosses keep it from turning, and no ring lifts it."""
    index = {p.name: k for k, p in enumerate(parts)}
    if mate.kind != "seat" or any(parts[index[p.fixed_part]].is_a("o-ring") for p in mate.pairs):
        return False
    features = {(key[0], g.feature.name): g.feature for key, g in chosen.chosen.items()}
    snug = 0
    for p in mate.pairs:
        ours, theirs = features[index[mate.part], p.moving], features[index[p.fixed_part], p.fixed]
        play = (ours.diameter or 0.0) - (theirs.diameter or 0.0)
        snug += ours.kind in ("hole", "slot") and theirs.kind == "shaft" and play <= LOOSE
    return snug > 1


def _part(placed: Placed, chosen: ChosenFeatures, index: int) -> GuessedPart:
    standard, volume = placed.standard, placed.graph.volume
    if standard is not None and standard.kind == "o-ring":
        return GuessedPart(placed, chosen.of_part(index), volume * _RUBBER, 0.6, f"{standard.name}, rubber")
    if standard is not None:
        mass = volume * _STEEL
        return GuessedPart(
            placed, chosen.of_part(index), mass, 0.15, f"{standard.name}, steel: {standard.why}"
        )
    question = "which material? taken as aluminium, 2.7 g/cm3; steel weighs 2.9 times as much"
    return GuessedPart(placed, chosen.of_part(index), volume * _LIGHT, 0.15, "not a standard part", question)
