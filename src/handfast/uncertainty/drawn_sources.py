"""Errors that the drawings themselves speak of, where nobody wrote a source: slack of places, position
tolerances.

The rules stand in model/holder.py (Place) and model/feature.py (Feature). A source that the engineer wrote
for the same place or feature stands instead of them.
"""

from __future__ import annotations

from collections.abc import Sequence

from handfast.model.cell import Cell
from handfast.model.error_source import ErrorSource, Six
from handfast.model.feature import Feature
from handfast.model.product import Product
from handfast.uncertainty.truncated import rectangular_sigma

# A tolerance zone is six sigma wide (common practice, no source).
_SIGMAS = 6.0


def slack_sources(cell: Cell, written: Sequence[ErrorSource]) -> tuple[ErrorSource, ...]:
    """One source for each place that holds something at the start, has slack, and has no written source.

    Uniform within the slack, drawn with each part.
    """
    taken = {source.acts_on for source in written}
    found = []
    for holder in cell.holders:
        for place in holder.places:
            path = f"{holder.name}.{place.name}"
            if place.holds is None or f"place.{path}" in taken or not (place.slack or place.slack_angle):
                continue
            x, y, z = (rectangular_sigma(free) for free in place.free)
            six = (x, y, z, 0.0, 0.0, rectangular_sigma(place.slack_angle))
            found.append(ErrorSource(f"slack of place {path}", f"place.{path}", six, "part", "uniform"))
    return tuple(found)


def tolerance_sources(product: Product, written: Sequence[ErrorSource]) -> tuple[ErrorSource, ...]:
    """One source for each feature of a part that has a position tolerance and no written source.

    Normal, a sixth of the tolerance as sigma, cut at the edge of the zone; one draw a lot.
    """
    taken = {source.acts_on for source in written}
    return tuple(
        ErrorSource(f"tolerance of {part.name}.{feature.name}", edge, _six(feature), "lot", "truncated", 3.0)
        for part in product.parts
        for feature in part.features
        if feature.position_tolerance and (edge := f"feature.{part.name}.{feature.name}") not in taken
    )


def _six(feature: Feature) -> Six:
    sigma = (feature.position_tolerance or 0.0) / _SIGMAS
    if feature.kind == "face":
        return (0.0, 0.0, sigma, 0.0, 0.0, 0.0)
    if feature.kind == "slot":
        return (0.0, sigma, 0.0, 0.0, 0.0, 0.0)
    return (sigma, sigma, 0.0, 0.0, 0.0, 0.0)
