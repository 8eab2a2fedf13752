"""Poses, frames and solids: the pieces that parts, tools and holders are written with."""

from __future__ import annotations

import math

import numpy as np

from handfast.files.spec import (
    Choice,
    Direction,
    DisagreementError,
    Field,
    Fields,
    FilePath,
    Quantity,
    Repeated,
    Row,
    Values,
)
from handfast.model.shape import Box, Cylinder, Mesh, Shape, Solid, Sphere
from handfast.spatial import se3, units
from handfast.spatial.pose import Pose, Vec3

LENGTH = Quantity("length")
SIZE = Quantity("length", "positive")
ANGLE = Quantity("angle")
POINT = Repeated(LENGTH, 3)


def make_pose(_name: str, values: Values) -> Pose:
    """Pose from position and turn: turned about the fixed x, then y, then z axis, then moved."""
    turned = se3.fixed_xyz(*values.get("turn", (0.0, 0.0, 0.0)))
    return Pose.from_matrix(se3.translation(*values.get("position", (0.0, 0.0, 0.0))) @ turned)


POSE = Fields(
    "a pose",
    (
        Field("position", POINT, help="origin of the frame"),
        Field("turn", Repeated(ANGLE, 3), help="turns about the fixed x, then y, then z axis"),
    ),
    make_pose,
)


def frame(at: Vec3, z_along: Vec3, x_along: Vec3 | None) -> Pose:
    """A frame from its origin, its z axis and, where it matters, its x axis.

    x_along is made square to z; its default is in docs/conventions.md.
    Raises DisagreementError if the two are nearly parallel.
    """
    z = np.array(z_along)
    # The default stays away from z: the body's x axis, or its y axis where z is within 26 degrees of x.
    given = x_along or ((0.0, 1.0, 0.0) if abs(z[0]) > 0.9 else (1.0, 0.0, 0.0))
    x = np.array(given) - z * float(z @ np.array(given))
    length = float(np.linalg.norm(x))
    if length < 0.01:
        raise DisagreementError(
            "x_along", "a direction across z_along", "one along it", "choose another axis"
        )
    x = x / length
    rotation = np.stack([x, np.cross(z, x), z], axis=1)
    return Pose.from_matrix(se3.pose(rotation, np.array(at)))


FRAME_FIELDS = (
    Field("at", POINT, required=True, help="mouth of a hole, tip of a shaft, centre of a face"),
    Field("z_along", Direction(), required=True, help="into a hole, out of a tip, out of a face"),
    Field("x_along", Direction(), help="where the turn about z matters"),
)


def frame_of(values: Values) -> Pose:
    """The frame written with at, z_along and x_along. Raises DisagreementError."""
    return frame(values["at"], values["z_along"], values.get("x_along"))


def _cylinder(_name: str, values: Values) -> Cylinder:
    return Cylinder(values["diameter"] / 2, values["length"])


def _sphere(_name: str, values: Values) -> Sphere:
    return Sphere(values["diameter"] / 2)


CYLINDER = Fields(
    "a cylinder",
    (Field("diameter", SIZE, required=True), Field("length", SIZE, required=True)),
    _cylinder,
)
SPHERE = Fields("a sphere", (Field("diameter", SIZE, required=True),), _sphere)
MESH_FILE = FilePath("a mesh", (".stl", ".obj", ".ply", ".glb", ".3mf"))


def make_solid(_name: str, values: Values) -> Solid:
    """One shape with its place."""
    shape: Shape
    if "mesh" in values:
        if "unit" not in values:
            raise DisagreementError("unit", "the unit of the mesh", "none", "add `unit: mm`")
        shape = Mesh(values["mesh"], units.DIMENSIONS["length"][values["unit"]])
    elif "unit" in values:
        raise DisagreementError(
            "unit", "a unit only beside a mesh", "one beside another shape", "leave it out"
        )
    else:
        shape = Box(values["box"]) if "box" in values else values.get("cylinder") or values["sphere"]
    return Solid(shape, values.get("at", Pose()))


SOLID = Fields(
    "a solid",
    (
        Field("box", Row((SIZE, SIZE, SIZE)), help="full edge lengths along x, y and z, about its middle"),
        Field("cylinder", CYLINDER, help="along z, about its middle"),
        Field("sphere", SPHERE),
        Field("mesh", MESH_FILE, help="closed triangle mesh"),
        Field("unit", Choice(("mm", "m", "cm", "in")), help="of the mesh"),
        Field("at", POSE),
    ),
    make_solid,
    one_of=("box", "cylinder", "sphere", "mesh"),
)
SOLIDS = Repeated(SOLID)
RIGHT_ANGLE = math.pi / 2
