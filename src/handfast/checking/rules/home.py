"""Parts that are home do not share material, but for threads, interference fits and squeezed rings."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from handfast.checking.case import Case, Rule
from handfast.checking.rules.holders import IN_MATERIAL
from handfast.checking.seated import seated_parts
from handfast.geometry.overlaps import overlap_depths
from handfast.model.finding import Finding
from handfast.model.mate import Mate


def overlaps(case: Case) -> Iterator[Finding]:
    """Pairs of parts that reach into each other once both are home."""
    if any(path[0] == "product" for path in case.broken):
        return  # half a body says nothing
    poses = seated_parts(case)
    parts = {p.name: p for p in case.project.product.parts if p.name in poses}
    names = list(parts)
    by_design = _by_design(case)
    depths = overlap_depths(
        [(parts[n].solids, poses[n]) for n in names],
        case.project.folder,
        lambda i, k: not by_design(names[i], names[k]),
        IN_MATERIAL,
    )
    deep = {frozenset((names[i], names[k])): d for (i, k), d in depths.items() if d > IN_MATERIAL}
    home = [case.project.product.base]
    for mate in (m for m in case.project.product.mates if m.part in poses):
        for other in home if deep else ():
            depth = deep.get(frozenset((mate.part, other)))
            if depth is not None:
                path = ("product", "mates", mate.name, "pairs")
                found = f"{mate.part} {1e3 * depth:.2g} mm deep in {other}"
                yield case.finding(
                    "overlap-at-home", path, "a part that is free when home", found, "check depth and frames"
                )
        home.append(mate.part)


def _by_design(case: Case) -> Callable[[str, str], bool]:
    """Whether two parts share material on purpose: thread in its drill hole, press fit, squeezed ring."""
    mates = case.project.product.mates
    rings = {m.part for m in mates if m.kind == "ring"}
    pairs = {frozenset((m.part, p.fixed_part)) for m in mates if _interferes(case, m) for p in m.pairs}
    return lambda a, b: a in rings or b in rings or frozenset((a, b)) in pairs


def _interferes(case: Case, mate: Mate) -> bool:
    threads = any(moving.kind == "thread" for _, _, moving, _ in case.pairs(mate))
    return threads or mate.kind in ("press", "belt")


RULES = (
    Rule(
        "overlap-at-home",
        "Two parts that are home do not claim the same material. Threads, press fits, belts and rings are "
        "left out: they do so on purpose.",
        overlaps,
    ),
)
