"""Parts that are home do not share material, but for threads, interference fits and squeezed rings."""

from __future__ import annotations

from collections.abc import Iterator

from handfast.checking.case import Case, Rule
from handfast.checking.rules.holders import IN_MATERIAL
from handfast.checking.seated import seated_parts
from handfast.geometry.mesh import MeshError
from handfast.geometry.overlap import overlap_depth
from handfast.model.finding import Finding
from handfast.model.mate import Mate
from handfast.spatial.se3 import Array


def overlaps(case: Case) -> Iterator[Finding]:
    """Pairs of parts that reach into each other once both are home."""
    if any(path[0] == "product" for path in case.broken):
        return  # half a body says nothing
    poses = seated_parts(case)
    mates = [m for m in case.project.product.mates if m.part in poses]
    home = [case.project.product.base]
    for mate in mates:
        for other in home:
            if other == mate.part or _by_design(case, mate, other):
                continue
            depth = _depth(case, mate.part, other, poses)
            if depth > IN_MATERIAL:
                path = ("product", "mates", mate.name, "pairs")
                found = f"{mate.part} {1e3 * depth:.2g} mm deep in {other}"
                yield case.finding(
                    "overlap-at-home", path, "a part that is free when home", found, "check depth and frames"
                )
        home.append(mate.part)


def _by_design(case: Case, mate: Mate, other: str) -> bool:
    """Whether the two share material on purpose: thread in its drill hole, press fit, squeezed ring."""
    rings = {m.part for m in case.project.product.mates if m.kind == "ring"}
    if rings & {mate.part, other}:
        return True
    return any(
        {m.part, pair.fixed_part} == {mate.part, other} and _interferes(case, m)
        for m in case.project.product.mates
        for pair in m.pairs
    )


def _interferes(case: Case, mate: Mate) -> bool:
    threads = any(moving.kind == "thread" for _, _, moving, _ in case.pairs(mate))
    return threads or mate.kind in ("press", "belt")


def _depth(case: Case, part: str, other: str, poses: dict[str, Array]) -> float:
    a, b = case.part(part), case.part(other)
    if a is None or b is None:
        return 0.0
    try:
        return overlap_depth(a.solids, poses[part], b.solids, poses[other], case.project.folder)
    except MeshError:
        return 0.0  # `mesh-unreadable` tells of it


RULES = (
    Rule(
        "overlap-at-home",
        "Two parts that are home do not claim the same material. Threads, press fits, belts and rings are "
        "left out: they do so on purpose.",
        overlaps,
    ),
)
