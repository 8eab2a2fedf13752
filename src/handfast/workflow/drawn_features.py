"""What a CAD file holds, part by part: features, grips, standard parts, and faces that are no feature."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from handfast.geometry.cad.assembly import Assembly, Drawing
from handfast.geometry.cad.find_features import Found, find_features
from handfast.geometry.cad.grips import Grip, grips_of
from handfast.geometry.cad.read_cad import Limits, Progress, read_cad
from handfast.mates.from_cad.standard_part import StandardPart, standard_part
from handfast.mates.from_cad.stated import with_tolerances


@dataclass(frozen=True, eq=False, slots=True)
class PartFeatures:
    """One drawing with all that was found in it. uses: names of its uses in the assembly."""

    drawing: Drawing
    uses: tuple[str, ...]
    found: Found
    grips: tuple[Grip, ...]
    standard: StandardPart | None


def drawn_features(
    source: str | Path,
    limits: Limits | None = None,
    progress: Progress | None = None,
    unit: str | None = None,
) -> tuple[Assembly, tuple[PartFeatures, ...]]:
    """The file and, in its order, every drawing. unit: of a mesh that states none. Raises CadError."""
    assembly = read_cad(source, limits, progress, unit)
    parts = []
    for k, drawing in enumerate(assembly.drawings):
        if progress is not None:
            progress(f"features of {drawing.name}", k, len(assembly.drawings))
        found = find_features(drawing.graph)
        found = replace(found, features=with_tolerances(found.features, drawing.tolerances))
        uses = tuple(i.name for i in assembly.instances if i.drawing == k)
        parts.append(
            PartFeatures(drawing, uses, found, grips_of(found.features), standard_part(found.features))
        )
    return assembly, tuple(parts)
