"""What a hand can take up, with its shapes."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.geometry import cover
from handfast.geometry.body import Body, body
from handfast.model.feature import Feature
from handfast.model.part import Part
from handfast.model.tool import HANDLE_FRICTION, Tool
from handfast.spatial.se3 import Array


@dataclass(frozen=True, eq=False, slots=True)
class Item:
    """A part or a tool: exact body, boxes (while it stands), spheres (while it is carried), in its own
    frame."""

    name: str
    exact: Body
    box_poses: Array
    box_halves: Array
    spheres: Array
    features: tuple[Feature, ...]
    mass: float
    friction: float


def make_item(thing: Part | Tool, folder: str) -> Item:
    """An item and its covers. Raises MeshError."""
    poses, halves = cover.boxes(thing.solids, folder)
    spheres = cover.spheres(thing.solids, folder, 0.015)
    exact = body(thing.name, thing.solids, folder)
    friction = thing.friction if isinstance(thing, Part) else HANDLE_FRICTION
    return Item(thing.name, exact, poses, halves, spheres, thing.features, thing.mass, friction)
