"""What each element of a chart does when it fails: declared in the plan, so that a person can read it
before anything moves, and carried out by the executor as it stands there."""

from __future__ import annotations

import math
from dataclasses import replace

from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.feature import Feature
from handfast.model.project import Project
from handfast.model.recovery import Recovery
from handfast.standards.limits_and_fits import limits

# Between two places of a search, as a share of what chamfers and play catch: places lie one per pi step^2,
# circles that cover a plane one per 2.6 radius^2 (hexagons inscribed in them), so below 0.91; a spiral needs
# more of them in its middle (at 0.8 it leaves gaps).
_STEP = 0.7
_REACH = 1e-3  # a search never goes further off its line; own choice, no source [m]
_MOST = 8  # places of a search


def with_recoveries(project: Project, chart: Chart) -> Chart:
    """The chart with the recoveries of every element declared."""
    return replace(
        chart, elements=tuple(replace(e, recoveries=_recoveries(project, e)) for e in chart.elements)
    )


def _recoveries(project: Project, element: Element) -> tuple[Recovery, ...]:
    if element.kind == "locate":
        return Recovery("no contact", "touch again"), Recovery("unlikely touch", "touch again")
    if element.kind == "grasp":
        return (Recovery("wrong width", "grasp again"),)
    if element.kind == "use" and element.leaves is not None and element.leaves.parent.startswith("tool."):
        return (Recovery("not taken up", "grasp again"),)
    if element.kind == "assemble":
        searched = _search(project, element) if element.strategy is None else ()
        return *searched, *_another(project, element)
    return ()


def _another(project: Project, element: Element) -> tuple[Recovery, ...]:
    """A part that does not go in gives way to the next of its kind, where there is one: by itself where the
    cell has a place for bad parts, else by a person."""
    holder, place = project.cell.place_of(element.object)
    if place.stock < 2:
        return ()
    bins = [f"{h.name}.{p.name}" for h in project.cell.holders if h.kind == "reject" for p in h.places]
    if bins:
        return (Recovery("did not go in", "reject", place.stock - 1, place=bins[0]),)
    part, at = element.object, f"{holder.name}.{place.name}"
    text = (
        f"the cell has no reject place: take {part} out of the {element.hand} hand and put it aside, "
        f"see that the next {part} lies at {at}, and go on with the first element of {element.mate}"
    )
    return (Recovery("did not go in", "stop", text=text),)


def _search(project: Project, element: Element) -> tuple[Recovery, ...]:
    """Beside the planned line, as far as lead-ins catch from place to place; none where nothing catches."""
    mate = project.product.mate(element.mate)
    pair = mate.pairs[0]
    moving = project.product.part(mate.part).feature(pair.moving)
    fixed = project.product.part(pair.fixed_part).feature(pair.fixed)
    if {moving.kind, fixed.kind} != {"shaft", "hole"}:
        return ()
    step = _STEP * (_lead_in(moving) + _lead_in(fixed) + _least_play(moving, fixed))
    if step <= 0:
        return ()
    places = min(_MOST, max(1, math.ceil((_REACH / step) ** 2)))
    return (Recovery("did not go in", "search", places, _REACH, step),)


def _lead_in(feature: Feature) -> float:
    return feature.chamfer.width if feature.chamfer is not None else 0.0


def _least_play(a: Feature, b: Feature) -> float:
    """Radial, at the tightest sizes [m]; below zero where they may interfere."""
    hole, shaft = (a, b) if a.kind == "hole" else (b, a)
    return (_size(hole)[0] - _size(shaft)[1]) / 2


def _size(feature: Feature) -> tuple[float, float]:
    drawn = feature.diameter or 0.0
    if feature.fit is None:
        return drawn, drawn
    found = limits(drawn, feature.fit)
    return found.lower, found.upper
