"""What the elements of a URDF say: numbers, origins, axes, limits, shapes."""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from collections.abc import Callable
from pathlib import Path

import numpy as np

from handfast.model.shape import Box, Cylinder, Mesh, Shape, Sphere
from handfast.spatial import se3
from handfast.spatial.se3 import Array


class ArmError(ValueError):
    """An arm that cannot be loaded: the message says which file, what was expected and what was found."""


def _numbers(text: str | None, count: int, default: str, place: str) -> list[float]:
    words = (text or default).split()
    try:
        values = [float(w) for w in words]
    except ValueError:
        values = []
    if len(values) != count or not all(math.isfinite(v) for v in values):
        raise ArmError(
            f"{place}: expected {count} finite number{'s' * (count > 1)}, found {text or default!r}"
        )
    return values


def name(element: ET.Element, path: Path) -> str:
    """Where an element is, for messages."""
    return f"{path}: {element.tag} {element.get('name')!r}"


def origin(element: ET.Element, place: str) -> Array:
    """Pose of an element in its parent (4, 4); identity where it has no <origin>. place: for messages."""
    written = element.find("origin")
    if written is None:
        return np.eye(4)
    x, y, z = _numbers(written.get("xyz"), 3, "0 0 0", f"{place}, origin xyz")
    roll, pitch, yaw = _numbers(written.get("rpy"), 3, "0 0 0", f"{place}, origin rpy")
    return se3.translation(x, y, z) @ se3.fixed_xyz(roll, pitch, yaw)


def axis(joint: ET.Element, path: Path) -> list[float]:
    """Unit axis (3,) of a joint in its own frame."""
    element, place = joint.find("axis"), f"{name(joint, path)}, axis"
    along = np.array(_numbers(element.get("xyz") if element is not None else None, 3, "1 0 0", place))
    length = float(np.linalg.norm(along))
    if length < 1e-6:
        raise ArmError(f"{place}: expected a direction, found {along.tolist()}")
    return list(along / length)


def limits(joint: ET.Element, path: Path) -> tuple[float, float, float]:
    """Lower and upper limit [rad] and velocity [rad/s]; two whole turns for a continuous joint."""
    limit, place = joint.find("limit"), f"{name(joint, path)}, limit"
    if limit is None:
        raise ArmError(f"{place}: expected one with a velocity, found none")
    (velocity,) = _numbers(limit.get("velocity"), 1, "", f"{place} velocity")
    if velocity <= 0:
        raise ArmError(f"{place} velocity: expected more than 0, found {velocity}")
    if joint.get("type") == "continuous":
        return -2 * math.pi, 2 * math.pi, velocity
    (lower,) = _numbers(limit.get("lower"), 1, "0", f"{place} lower")
    (upper,) = _numbers(limit.get("upper"), 1, "0", f"{place} upper")
    if not lower < upper:
        raise ArmError(f"{place}: expected lower < upper, found {lower} and {upper}")
    return lower, upper, velocity


def shape(collision: ET.Element, place: str, find: Callable[[str, str], Path]) -> Shape:
    """The shape of a collision element. find: the path of a mesh from its filename and its place."""
    geometry = collision.find("geometry")
    element = geometry[0] if geometry is not None and len(geometry) else None
    if element is None or element.tag not in ("box", "cylinder", "sphere", "mesh"):
        found = "nothing" if element is None else f"<{element.tag}>"
        raise ArmError(f"{place}: expected box, cylinder, sphere or mesh in <geometry>, found {found}")
    if element.tag == "box":
        x, y, z = _sizes(element, "size", 3, place)
        return Box((x, y, z))
    if element.tag == "cylinder":
        return Cylinder(*_sizes(element, "radius", 1, place), *_sizes(element, "length", 1, place))
    if element.tag == "sphere":
        return Sphere(*_sizes(element, "radius", 1, place))
    scale = _numbers(element.get("scale"), 3, "1 1 1", f"{place}, mesh scale")
    if len(set(scale)) > 1 or scale[0] <= 0:
        raise ArmError(f"{place}, mesh scale: expected one scale above 0, found {scale}")
    if not element.get("filename"):
        raise ArmError(f"{place}, mesh: expected a filename, found none")
    return Mesh(str(find(str(element.get("filename")), f"{place}, mesh")), scale[0])


def _sizes(element: ET.Element, attribute: str, count: int, place: str) -> list[float]:
    where = f"{place}, {element.tag} {attribute}"
    values = _numbers(element.get(attribute), count, "", where)
    if min(values) <= 0:
        raise ArmError(f"{where}: expected more than 0, found {element.get(attribute)!r}")
    return values
