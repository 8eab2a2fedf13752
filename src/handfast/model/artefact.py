"""A ground ball on a foot, which a person sets down for the arms to touch."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.model.named import find
from handfast.model.shape import Solid, Sphere
from handfast.spatial.pose import Pose, Vec3
from handfast.spatial.se3 import Array


@dataclass(frozen=True, slots=True)
class Stand:
    """Where in the workspace the artefact is set down. pose: T_world_artefact, as it should stand."""

    name: str
    pose: Pose


@dataclass(frozen=True, slots=True)
class Artefact:
    """A ball whose form is ground well below what an arm can tell. radius [m]; middle: of the ball in the
    artefact's frame [m]; foot: what carries it, in that frame; slack [m]: how far off a stand a person may
    set it down, either way along each axis; stands: in the order in which they are visited."""

    name: str
    radius: float
    middle: Vec3
    foot: tuple[Solid, ...]
    stands: tuple[Stand, ...]
    slack: float = 2e-3

    def stand(self, name: str) -> Stand:
        """The stand of that name. Raises KeyError with the names there are."""
        return find(self.stands, name, "stand")

    def ball_at(self, stand: Stand) -> Array:
        """Where the middle of the ball should be in the world (3,) [m]."""
        found: Array = stand.pose.matrix[:3, :3] @ self.middle + stand.pose.matrix[:3, 3]
        return found

    def solids(self, larger: float = 0.0) -> tuple[Solid, ...]:
        """Ball and foot in the artefact's frame. larger: added to the radius of the ball [m]."""
        return (Solid(Sphere(self.radius + larger), Pose(self.middle)), *self.foot)
