"""The project as it is while an artefact stands somewhere in its cell."""

from __future__ import annotations

from dataclasses import replace

from handfast.model.artefact import Artefact, Stand
from handfast.model.cell import Obstacle
from handfast.model.project import Project
from handfast.model.shape import Box, Cylinder, Solid, Sphere
from handfast.spatial.pose import Pose


def with_artefact(project: Project, artefact: Artefact, stand: Stand, *, ball: bool = True) -> Project:
    """With an obstacle wherever the artefact may stand, set down within its slack. ball: False leaves the
    ball itself out, for the stretch of a way that ends on it."""
    solids = artefact.solids() if ball else artefact.foot
    grown = tuple(_grown(solid, artefact.slack) for solid in solids)
    placed = tuple(Solid(s.shape, Pose.from_matrix(stand.pose.matrix @ s.pose.matrix)) for s in grown)
    obstacles = (*project.cell.obstacles, Obstacle(artefact.name, placed))
    return replace(project, cell=replace(project.cell, obstacles=obstacles))


def _grown(solid: Solid, by: float) -> Solid:
    """Larger by so much on every side [m]; a mesh as it is."""
    shape = solid.shape
    if isinstance(shape, Sphere):
        return Solid(Sphere(shape.radius + by), solid.pose)
    if isinstance(shape, Cylinder):
        return Solid(Cylinder(shape.radius + by, shape.length), solid.pose)
    if isinstance(shape, Box):
        x, y, z = shape.size
        return Solid(Box((x + 2 * by, y + 2 * by, z)), solid.pose)
    return solid
