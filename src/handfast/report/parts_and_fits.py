"""The parts, and what fits into what."""

from __future__ import annotations

from handfast.checking.fit_of_pair import fit_of_pair
from handfast.model.feature import Feature
from handfast.model.holder import Holder, Place
from handfast.model.mate import FeaturePair, Mate
from handfast.model.project import Project
from handfast.report.content import ReportInput, Row, Section, filled
from handfast.report.quantities import degrees, micrometres, millimetres

_PARTS = (("part", 0.2), ("mass", 0.1), ("lies in", 0.25), ("features", 0.45))
_FITS = (
    ("mate", 0.15), ("kind", 0.08), ("moving feature", 0.19), ("goes to", 0.19), ("fit", 0.11),
    ("clearance", 0.12), ("home and limits", 0.16),
)  # fmt: skip


def parts_and_fits(given: ReportInput) -> Section:
    """One row a part, one row a pair of features."""
    project = given.page.project
    parts: list[Row] = [
        (p.name, f"{p.mass * 1e3:.3g} g", lies_in(project, p.name), ", ".join(f.name for f in p.features))
        for p in project.product.parts
    ]
    fits = [_pair(project, m, i, pair) for m in project.product.mates for i, pair in enumerate(m.pairs)]
    return Section(
        "parts", "Parts and fits",
        (filled("parts", _PARTS, parts, "No parts."), filled("fits", _FITS, fits, "No mates.")),
    )  # fmt: skip


def lies_in(project: Project, item: str) -> str:
    """Where an item lies before the first element, as people name it."""
    found = [(h, p) for h in project.cell.holders for p in h.places if p.holds == item]
    return ", ".join(place_name(h, p) for h, p in found) or "nowhere"


def place_name(holder: Holder, place: Place) -> str:
    """Such as "tray.pin"."""
    return f"{holder.name}.{place.name}"


def _pair(project: Project, mate: Mate, number: int, pair: FeaturePair) -> Row:
    moving = project.product.part(mate.part).feature(pair.moving)
    fixed = project.product.part(pair.fixed_part).feature(pair.fixed)
    fit = fit_of_pair(moving, fixed)
    words = _classes(moving, fixed) if fit is not None else ""
    play = micrometres(fit.clearance_min, fit.clearance_max) if fit is not None else ""
    if moving.kind == fixed.kind == "thread":
        words, play = moving.thread or "", ""
    first = number == 0
    return (
        mate.name if first else "", mate.kind if first else "also", _named(mate.part, moving),
        _named(pair.fixed_part, fixed), words, play, _limits(mate, pair) if first else _depth(pair),
    )  # fmt: skip


def _classes(moving: Feature, fixed: Feature) -> str:
    hole, shaft = (moving, fixed) if moving.kind in ("hole", "slot") else (fixed, moving)
    size = f"{(hole.diameter or 0) * 1e3:g}"
    if hole.fit or shaft.fit:
        return f"{size} {hole.fit or 'as drawn'}/{shaft.fit or 'as drawn'}"
    return f"{size} over {shaft.thread or f'{(shaft.diameter or 0) * 1e3:g}'}"


def _named(part: str, feature: Feature) -> str:
    lead = ""
    if feature.chamfer is not None:
        lead = f", chamfer {millimetres(feature.chamfer.width)} at {degrees(feature.chamfer.angle)}"
    return f"{part}.{feature.name} ({feature.kind}{lead})"


def _limits(mate: Mate, pair: FeaturePair) -> str:
    if mate.torque is not None:
        return f"{_depth(pair)}, {mate.torque:g} N m"
    return f"{_depth(pair)}, at most {mate.force_limit:g} N"


def _depth(pair: FeaturePair) -> str:
    return f"{millimetres(abs(pair.depth))} in"
