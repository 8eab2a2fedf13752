"""The chain of an arm, read from its URDF."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from handfast.kinematics.urdf_values import ArmError, axis, limits, name, origin, shape
from handfast.model.arm import Arm
from handfast.model.shape import Solid
from handfast.spatial import se3
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import Array

__all__ = ["ArmError", "Chain", "load_chain"]


@dataclass(frozen=True, eq=False, slots=True)
class Chain:
    """Revolute joints from root to tip. Links are numbered -1 (root), 0 .. n-1 (moved by that joint), n
    (tip).

    placements: (n, 4, 4) parent link -> joint frame at q = 0; axes: (n, 3) unit, in the joint frame; tip: (4,
    4) last link -> tip; base: T_world_root (4, 4); lower, upper, velocity, acceleration: (n,) [rad, rad/s,
    rad/s2], the speed share taken in; solids: (link, solid in the frame of that link).
    """

    name: str
    joints: tuple[str, ...]
    placements: Array
    axes: Array
    tip: Array
    base: Array
    lower: Array
    upper: Array
    velocity: Array
    acceleration: Array
    home: Array
    solids: tuple[tuple[int, Solid], ...] = field(default=())

    @property
    def n(self) -> int:
        """Number of joints."""
        return len(self.joints)


def load_chain(arm: Arm, folder: str) -> Chain:
    """The chain of an arm whose URDF lies in the project folder. Raises ArmError."""
    path = Path(folder) / arm.urdf
    root = _parse(path)
    joints = {_child(j, path): j for j in root.findall("joint")}
    chain = _joints_to_root(joints, arm, path)
    moving = [j for j in chain if j.get("type") != "fixed"]
    for joint in moving:
        if joint.get("type") not in ("revolute", "continuous"):
            raise ArmError(
                f"{path}: joint {joint.get('name')!r} between {arm.root!r} and {arm.tip!r}: "
                f"expected revolute, continuous or fixed, found {joint.get('type')!r}"
            )
    if not moving:
        raise ArmError(f"{path}: no moving joint between {arm.root!r} and {arm.tip!r}")
    return _assemble(arm, path, root, chain, moving)


def _parse(path: Path) -> ET.Element:
    try:
        text = path.read_bytes().decode("utf-8")
    except OSError as error:
        raise ArmError(f"{path}: expected a URDF file, cannot be read: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise ArmError(
            f"{path}: expected UTF-8, found the byte {error.object[error.start]:#04x} at {error.start}"
        ) from error
    if "<!ENTITY" in text:
        raise ArmError(f"{path}: expected a plain URDF, found an XML entity definition")
    try:
        root = ET.fromstring(text)
    except ET.ParseError as error:
        raise ArmError(
            f"{path}: expected XML, found an error at line {error.position[0]}: {error}"
        ) from error
    if root.tag != "robot":
        raise ArmError(f"{path}: expected a <robot> element, found <{root.tag}>")
    return root


def _child(joint: ET.Element, path: Path) -> str:
    child = joint.find("child")
    if child is None or joint.find("parent") is None:
        raise ArmError(f"{path}: joint {joint.get('name')!r} has no parent or no child link")
    return str(child.get("link"))


def _joints_to_root(joints: dict[str, ET.Element], arm: Arm, path: Path) -> list[ET.Element]:
    chain: list[ET.Element] = []
    link = arm.tip
    while link != arm.root:
        joint = joints.get(link)
        if joint is None or len(chain) > len(joints):
            raise ArmError(
                f"{path}: no chain of joints leads from {arm.root!r} to {arm.tip!r}; it ends at {link!r}"
            )
        chain.insert(0, joint)
        parent = joint.find("parent")
        link = str(parent.get("link")) if parent is not None else ""
    return chain


def _assemble(
    arm: Arm, path: Path, root: ET.Element, chain: list[ET.Element], moving: list[ET.Element]
) -> Chain:
    placements, axes, bounds = [], [], []
    offset = np.eye(4)  # from the frame of the last moving link to where we are
    frames: dict[str, tuple[int, Array]] = {arm.root: (-1, np.eye(4))}
    for joint in chain:
        offset = offset @ origin(joint, name(joint, path))
        if joint in moving:
            placements.append(offset)
            axes.append(axis(joint, path))
            bounds.append(limits(joint, path))
            offset = np.eye(4)
        frames[_child(joint, path)] = (len(placements) - 1, offset)
    _hang_on_fixed(root, frames, path)
    count = len(moving)
    for what, given in (("home", arm.home), ("max_acceleration", arm.max_acceleration)):
        if len(given) != count:
            raise ArmError(
                f"arm {arm.name!r}: {what} needs {count} values, one per joint, found {len(given)}"
            )
    tip = frames[arm.tip][1]
    lower, upper, velocity = (np.array(b) for b in zip(*bounds, strict=True))
    return Chain(
        name=arm.name,
        joints=tuple(str(j.get("name")) for j in moving),
        placements=np.array(placements),
        axes=np.array(axes),
        tip=tip,
        base=arm.base.matrix,
        lower=lower,
        upper=upper,
        velocity=velocity * arm.speed,
        acceleration=np.array(arm.max_acceleration),
        home=np.array(arm.home),
        solids=tuple(_solids(root, frames, arm.tip, count, tip, path)),
    )


def _hang_on_fixed(root: ET.Element, frames: dict[str, tuple[int, Array]], path: Path) -> None:
    """Links that hang on the chain by fixed joints belong to the link they hang on."""
    again = True
    while again:
        again = False
        for joint in root.findall("joint"):
            child, parent = _child(joint, path), joint.find("parent")
            above = frames.get(str(parent.get("link"))) if parent is not None else None
            if above is not None and child not in frames and joint.get("type") == "fixed":
                frames[child] = (above[0], above[1] @ origin(joint, name(joint, path)))
                again = True


def _solids(
    root: ET.Element, frames: dict[str, tuple[int, Array]], tip_link: str, n: int, tip: Array, path: Path
) -> list[tuple[int, Solid]]:
    out: list[tuple[int, Solid]] = []
    for link in root.findall("link"):
        place = frames.get(str(link.get("name")))
        if place is None:
            continue
        for collision in link.findall("collision"):
            where = f"{name(link, path)}, collision"
            pose = place[1] @ origin(collision, where)
            index = place[0]
            if str(link.get("name")) == tip_link:  # the tip is a link of its own
                index, pose = n, se3.inverse(tip) @ pose
            out.append((index, Solid(shape(collision, path, where), Pose.from_matrix(pose))))
    return out
