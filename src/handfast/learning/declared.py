"""What the project declares of an edge, seen along a direction."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.model.project import Project
from handfast.spatial.se3 import Array

CYCLE = ("cycle",)


@dataclass(frozen=True, slots=True)
class Part:
    """One source's share of a reading. freedom: that it would be changed in, -1 if in several; sigma [m or
    rad]: along the direction read."""

    source: str
    freedom: int
    sigma: float


def along(project: Project, acts_on: str, direction: Array, changes: tuple[str, ...] | None) -> list[Part]:
    """Sources on an edge along a direction (6,) in its frame; changes: only those that change so often."""
    out = []
    for source in project.errors:
        if source.acts_on == acts_on and (changes is None or source.changes in changes):
            each = np.array(source.sigma) * direction
            sigma = float(np.linalg.norm(each))
            if sigma > 0:
                largest = np.flatnonzero(np.abs(each) > 1e-3 * sigma)
                out.append(Part(source.name, int(largest[0]) if len(largest) == 1 else -1, sigma))
    return out


def total(parts: list[Part]) -> float:
    """Of independent sources [m or rad]."""
    return float(np.sqrt(sum(p.sigma**2 for p in parts)))
