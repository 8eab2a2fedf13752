"""Features: complete, and with a frame that lies on the part and points the right way."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from handfast.checking.case import Case, Rule
from handfast.checking.fit_of_pair import size_limits
from handfast.checking.inside_solid import inside_any
from handfast.files.position import Path
from handfast.geometry.mesh import MeshError
from handfast.model.feature import Feature
from handfast.model.finding import Finding
from handfast.model.part import Part
from handfast.model.tool import Tool
from handfast.spatial.se3 import Array
from handfast.standards.limits_and_fits import deviations
from handfast.standards.tabled_value_error import TabledValueError
from handfast.standards.threads import coarse_thread
from handfast.standards.tolerance_class import parse_tolerance_class

NEEDED: dict[str, tuple[str, ...]] = {
    "hole": ("diameter",),
    "shaft": ("diameter", "length"),
    "face": ("size",),
    "thread": ("thread", "length"),
    "gear": ("teeth", "module"),
    "ring": ("diameter",),
}
_AROUND = np.arange(12) * (2 * np.pi / 12)


def features(case: Case) -> Iterator[tuple[Path, Part | Tool, Feature]]:
    """Every feature of every part and tool."""
    for path, item in case.items():
        for feature in item.features:
            yield (*path, "features", feature.name), item, feature


def incomplete(case: Case) -> Iterator[Finding]:
    """Features that lack what their kind is known by."""
    for path, _, feature in features(case):
        for name in NEEDED.get(feature.kind, ()):
            if getattr(feature, name) is None:
                expected = f"a {feature.kind} with its {name}"
                yield case.finding("feature-incomplete", path, expected, "one without", f"add `{name}:`")


def fit_classes(case: Case) -> Iterator[Finding]:
    """Fits that ISO 286 does not have, or of the other sex."""
    for path, _, feature in features(case):
        if feature.fit is None:
            continue
        at = (*path, "fit")
        try:
            is_hole = parse_tolerance_class(feature.fit).is_hole
            if feature.diameter is not None:
                deviations(feature.diameter, feature.fit)
        except TabledValueError as error:
            yield case.finding(
                "unknown-fit", at, f"{error.place}, {error.expected}", repr(error.found), error.fix
            )
            continue
        if feature.kind in ("hole", "slot", "shaft") and is_hole is (feature.kind == "shaft"):
            wanted = "a class in small letters" if is_hole else "a class in capitals"
            yield case.finding("unknown-fit", at, f"{wanted} on a {feature.kind}", repr(feature.fit))


def lots(case: Case) -> Iterator[Finding]:
    """Lots whose mean lies outside the tolerance, and what is known of them but not used."""
    for path, _, feature in features(case):
        lot, allowed = feature.lot, size_limits(feature)
        if lot is None:
            continue
        if lot.mean is not None and allowed is None:
            fix = "leave it out, or add `diameter:`"
            yield case.finding("lot-data", (*path, "lot", "mean"), "a feature with a diameter", "none", fix)
        elif lot.mean is not None and allowed is not None and feature.fit is not None:
            low, high = (f"{1e3 * size:.4f}" for size in allowed)
            if not allowed[0] <= lot.mean <= allowed[1]:
                expected = f"a mean within the tolerance, {low} to {high} mm"
                found = f"{1e3 * lot.mean:.4f} mm"
                fix = "sort the lot, or change the fit"
                yield case.finding("lot-data", (*path, "lot", "mean"), expected, found, fix)
        for key, rate in (("burrs", lot.burrs), ("missing_chamfers", lot.missing_chamfers)):
            if rate:
                expected = "only what trials draw"
                found = f"{100 * rate:.3g} %, which the ledger counts and trials do not draw yet"
                fix = "expect trials to do better than the ledger by that share"
                yield case.finding("rate-not-drawn", (*path, "lot", key), expected, found, fix, "warning")


def threads(case: Case) -> Iterator[Finding]:
    """Threads that no table here has."""
    for path, _, feature in features(case):
        if feature.thread is not None:
            yield from unknown_thread(case, (*path, "thread"), feature.thread)


def unknown_thread(case: Case, path: Path, thread: str) -> Iterator[Finding]:
    """A finding if the thread is not in the table."""
    try:
        coarse_thread(thread)
    except TabledValueError as error:
        yield case.finding("unknown-thread", path, error.expected, repr(error.found), error.fix)


def directions(case: Case) -> Iterator[Finding]:
    """Frames that look the wrong way, or lie where the drawn part has no such feature."""
    for path, item, feature in features(case):
        probe = probes(feature)
        if probe is None:
            continue
        T = feature.frame.matrix
        points = np.concatenate(probe) @ T[:3, :3].T + T[:3, 3]
        try:
            inside = inside_any(points, item.solids, case.project.folder)
        except MeshError:
            return  # the mesh has its own finding
        counts = [int(side.sum()) for side in np.split(inside, [len(probe[0])])]
        into = _is_internal(feature)
        material, air = counts if into else counts[::-1]
        if material > air:
            continue
        yield _wrong_way(case, path, feature, reversed_=material < air)


def _wrong_way(case: Case, path: Path, feature: Feature, reversed_: bool) -> Finding:
    into = _is_internal(feature)
    side = "into the material, from the mouth" if into else "out of the material"
    if reversed_:
        fix = "turn z_along round"
        return case.finding("feature-direction", (*path, "z_along"), f"z {side}", "z the other way", fix)
    expected = f"a {feature.kind} of the drawn part here, z {side}"
    found = "no difference of material before and behind the origin"
    return case.finding("feature-off-part", (*path, "at"), expected, found, "check `at` and z_along")


def _is_internal(feature: Feature) -> bool:
    return feature.kind in ("hole", "slot") or (feature.kind == "thread" and feature.internal)


def probes(feature: Feature) -> tuple[Array, Array] | None:
    """Points ahead of the origin and behind it, each (m, 3) [m] in the feature frame; None for other kinds.

    For a hole a ring in the wall around it, for a shaft points in its cross-section, for a face a grid.
    """
    if feature.kind == "face":
        return _over_face(feature)
    diameter = _diameter(feature)
    if diameter is None or feature.kind not in ("hole", "slot", "shaft", "thread"):
        return None
    depth = 0.4 * min(feature.length or diameter, diameter)
    radius = diameter / 2
    if _is_internal(feature):
        chamfer = feature.chamfer.width if feature.chamfer is not None else 0.0
        rings = [radius + chamfer + max(0.15 * radius, 0.15e-3)]
    else:
        rings = [0.3 * radius, 0.6 * radius, 0.96 * radius]  # the last meets tubes and rings too
    x = np.concatenate([r * np.cos(_AROUND) for r in rings])
    y = np.concatenate([r * np.sin(_AROUND) for r in rings])
    return _both_sides(x, y, depth)


def _over_face(feature: Feature) -> tuple[Array, Array] | None:
    if feature.size is None:
        return None
    share = np.array([-0.43, -0.22, 0.01, 0.22, 0.43])
    x, y = np.meshgrid(share * feature.size[0], share * feature.size[1])
    return _both_sides(x.ravel(), y.ravel(), min(0.2e-3, 0.05 * min(feature.size)))


def _both_sides(x: Array, y: Array, depth: float) -> tuple[Array, Array]:
    z = np.full_like(x, depth)
    return np.stack([x, y, z], axis=1), np.stack([x, y, -z], axis=1)


def _diameter(feature: Feature) -> float | None:
    if feature.kind != "thread" or feature.thread is None:
        return feature.diameter
    try:
        return coarse_thread(feature.thread).diameter
    except TabledValueError:
        return None  # `threads` tells of it


RULES = (
    Rule(
        "lot-data",
        "The mean of a measured lot lies within the tolerance of its feature: what lies outside is sorted "
        "out, and little would be left.",
        lots,
    ),
    Rule(
        "rate-not-drawn",
        "Rates of burrs and missing chamfers count in the ledger: at the sure end such a part does not go "
        "in. Trials do not draw them yet: said as a warning.",
    ),
    Rule(
        "feature-incomplete",
        "A hole needs its diameter, a shaft diameter and length, a face its size, a thread its name "
        "and length.",
        incomplete,
    ),
    Rule(
        "unknown-fit",
        "A fit is a class of ISO 286: capitals for a hole (H7), small letters for a shaft (g6), "
        "within the tables.",
        fit_classes,
    ),
    Rule("unknown-thread", "A thread is an ISO metric coarse thread of the table, such as M4.", threads),
    Rule(
        "feature-direction",
        "The z axis of a feature is the mating direction: into a hole, out of the tip of a shaft, out "
        "of a face. The drawn part shows which side its material is on.",
        directions,
    ),
    Rule(
        "feature-off-part",
        "The origin of a feature lies on the drawn part: at the mouth of a hole, the tip of a shaft, "
        "the middle of a face.",
    ),
)
