"""A part of the product."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.model.feature import Feature
from handfast.model.named import find
from handfast.model.shape import Solid
from handfast.spatial.pose import Vec3


@dataclass(frozen=True, slots=True)
class Part:
    """A thing to assemble. mass [kg]; centre_of_mass in the part frame [m]; friction: with metal, dry;
    modulus: of elasticity [Pa], for a press fit."""

    name: str
    solids: tuple[Solid, ...]
    features: tuple[Feature, ...]
    mass: float
    centre_of_mass: Vec3 = (0.0, 0.0, 0.0)
    friction: float = 0.15
    modulus: float | None = None

    def feature(self, name: str) -> Feature:
        """The feature of that name. Raises KeyError with the names there are."""
        return find(self.features, name, f"on part {self.name!r} the feature")
