"""Diameters and lengths as they are written, against the part as it is drawn."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from handfast.checking.case import Case, Rule
from handfast.checking.inside_solid import inside_any
from handfast.checking.rules.features import features
from handfast.geometry.cover import boxes
from handfast.geometry.mesh import MeshError
from handfast.model.feature import Feature
from handfast.model.finding import Finding
from handfast.model.part import Part
from handfast.model.tool import Tool
from handfast.spatial.se3 import Array

_AROUND = np.arange(60) * (2 * np.pi / 60)


def diameters(case: Case) -> Iterator[Finding]:
    """Shafts that are drawn thicker or thinner than written, holes wider or narrower."""
    for path, item, feature in features(case):
        if feature.kind not in ("shaft", "hole") or feature.diameter is None:
            continue
        try:
            longest = _longest(case, item)
            if feature.length is not None and feature.length > longest + slack(longest):
                expected = f"a length inside the part, at most {1e3 * longest:.4g} mm"
                found = f"{1e3 * feature.length:.4g} mm"
                fix = "correct the length; is its unit mm?"
                yield case.finding("size-off-part", (*path, "length"), expected, found, fix)
                continue
            beyond, within = (
                _material(case, item, feature, sign * slack(feature.diameter)) for sign in (1, -1)
            )
        except MeshError:
            return  # the mesh has its own finding
        wrong = _wrong(feature.kind == "shaft", beyond, within)
        if wrong:
            expected = f"the {feature.kind} as it is drawn"
            found = f"{1e3 * feature.diameter:.4g} mm; the drawn one is {wrong}"
            fix = "correct the diameter, or the part's shape"
            yield case.finding("size-off-part", (*path, "diameter"), expected, found, fix)


def _longest(case: Case, item: Part | Tool) -> float:
    """Diagonal of the box around a body [m]: nothing in it is longer."""
    poses, halves = boxes(item.solids, case.project.folder)
    reach = np.einsum("kij,kj->ki", np.abs(poses[:, :3, :3]), halves)
    low, high = (poses[:, :3, 3] - reach).min(axis=0), (poses[:, :3, 3] + reach).max(axis=0)
    return float(np.linalg.norm(high - low))


def _wrong(shaft: bool, beyond: np.ndarray, within: np.ndarray) -> str:
    """How the drawn one differs, or nothing: by the material just outside and just inside of the circle."""
    if shaft:
        return "thicker" if beyond.all() else "" if within.any() else "thinner"
    return "narrower" if within.all() else "" if beyond.any() else "wider"


def slack(diameter: float) -> float:
    """How far a drawn surface may lie off the written one [m], for facets; common practice, no source."""
    return 0.08e-3 + 0.002 * diameter


def _material(case: Case, item: Part | Tool, feature: Feature, beyond: float) -> np.ndarray:
    """Which of 60 points on a ring around the axis lie in material: half way along, so far outside."""
    radius = (feature.diameter or 0.0) / 2 + beyond
    along = 0.5 * (feature.length if feature.length is not None else 0.5 * (feature.diameter or 0.0))
    z = np.full_like(_AROUND, along if feature.kind == "hole" else -along)
    ring: Array = np.stack([radius * np.cos(_AROUND), radius * np.sin(_AROUND), z], axis=1)
    T = feature.frame.matrix
    return inside_any(ring @ T[:3, :3].T + T[:3, 3], item.solids, case.project.folder)


RULES = (
    Rule(
        "size-off-part",
        "A written diameter agrees with the drawn shape, to within 0.08 mm and 0.2 %: jaws close on what is "
        "drawn, and fits are reckoned with what is written. Half way along the feature is looked at. "
        "No feature is longer than its part.",
        diameters,
    ),
)
