"""A project in which everything that errs errs more."""

from __future__ import annotations

from dataclasses import replace
from typing import cast

from handfast.model.error_source import Six
from handfast.model.holder import Holder
from handfast.model.part import Part
from handfast.model.project import Project


def scaled(project: Project, scale: float) -> Project:
    """Sigmas, slack of places, position tolerances and what cameras say of themselves, times `scale`: what a
    trial with that scale draws from. Sizes within their fits stay, as does which parts go together at all."""
    errors = tuple(replace(s, sigma=cast(Six, tuple(scale * v for v in s.sigma))) for s in project.errors)
    cameras = tuple(
        replace(c, sigma=cast(Six, tuple(scale * v for v in c.sigma))) for c in project.cell.cameras
    )
    holders = tuple(_holder(h, scale) for h in project.cell.holders)
    cell = replace(project.cell, holders=holders, cameras=cameras)
    parts = tuple(_part(p, scale) for p in project.product.parts)
    return replace(project, errors=errors, cell=cell, product=replace(project.product, parts=parts))


def _holder(holder: Holder, scale: float) -> Holder:
    places = tuple(
        replace(p, slack=scale * p.slack, slack_angle=scale * p.slack_angle) for p in holder.places
    )
    return replace(holder, places=places)


def _part(part: Part, scale: float) -> Part:
    features = tuple(
        replace(f, position_tolerance=scale * f.position_tolerance) if f.position_tolerance else f
        for f in part.features
    )
    return replace(part, features=features)
