"""The fit of a hole and a shaft, in numbers."""

from __future__ import annotations

from handfast.model.feature import Feature
from handfast.model.fit import Fit
from handfast.standards.limits_and_fits import limits
from handfast.standards.tabled_value_error import TabledValueError
from handfast.standards.threads import coarse_thread


def fit_of_pair(a: Feature, b: Feature) -> Fit | None:
    """The clearance of a hole (or slot) and a shaft (or screw) in either order, or None for another pair.

    A diameter without a fit stands for itself, as drawn; a screw is as thick as its thread's nominal size.
    """
    hole, shaft = (a, b) if a.kind in ("hole", "slot") else (b, a)
    if hole.kind not in ("hole", "slot") or not _goes_through(shaft):
        return None
    hole_size, shaft_size = size_limits(hole), size_limits(shaft)
    if hole_size is None or shaft_size is None:
        return None
    return Fit(
        hole.diameter or 0.0,
        hole.fit or "",
        shaft.fit or "",
        hole_size[0] - shaft_size[1],
        hole_size[1] - shaft_size[0],
    )


def _goes_through(feature: Feature) -> bool:
    """A tapped hole under a clearance hole counts as the screw that will go through both."""
    return feature.kind in ("shaft", "thread")


def size_limits(feature: Feature) -> tuple[float, float] | None:
    """Least and largest diameter [m], or None if the feature has none or it is in no table."""
    try:
        if feature.kind == "thread":
            diameter = coarse_thread(feature.thread or "").diameter
            return diameter, diameter
        if feature.diameter is None:
            return None
        if feature.fit is None:
            return feature.diameter, feature.diameter
        size = limits(feature.diameter, feature.fit)
    except TabledValueError:
        return None  # the feature has its own finding
    return size.lower, size.upper
