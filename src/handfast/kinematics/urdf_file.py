"""A URDF found, read and taken apart into its tree of links."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from pathlib import Path

from handfast.kinematics.urdf_values import ArmError, name, origin
from handfast.model.arm import Arm
from handfast.model.package_file import NotInstalledError, is_package_path, package_file
from handfast.spatial import se3
from handfast.spatial.se3 import Array

Frames = dict[str, tuple[int, Array]]
"""By link: number of the link of the chain that it moves with, and its pose in that link's frame (4, 4)."""


def urdf_path(arm: Arm, folder: str) -> Path:
    """Where the URDF of an arm lies: in the project folder or in an installed package. Raises ArmError."""
    if not is_package_path(arm.urdf):
        return Path(folder) / arm.urdf
    try:
        return package_file(arm.urdf).locate()
    except NotInstalledError as error:
        raise ArmError(f"arm {arm.name!r}: {error}") from error


def parse(path: Path) -> ET.Element:
    """The <robot> element. Raises ArmError."""
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


def ends(joint: ET.Element, path: Path) -> tuple[str, str]:
    """Parent and child link of a joint. Raises ArmError."""
    parent, child = joint.find("parent"), joint.find("child")
    if child is None or parent is None:
        raise ArmError(f"{path}: joint {joint.get('name')!r} has no parent or no child link")
    return str(parent.get("link")), str(child.get("link"))


def joints_between(robot: ET.Element, arm: Arm, path: Path) -> list[ET.Element]:
    """The joints from the arm's root to its tip, in order. Raises ArmError."""
    above = {ends(j, path)[1]: j for j in robot.findall("joint")}
    chain: list[ET.Element] = []
    link = arm.tip
    while link != arm.root:
        joint = above.get(link)
        if joint is None or len(chain) > len(above):
            raise ArmError(
                f"{path}: no chain of joints leads from {arm.root!r} to {arm.tip!r}; it ends at {link!r}"
            )
        chain.insert(0, joint)
        link = ends(joint, path)[0]
    return chain


def hang_on(robot: ET.Element, frames: Frames, path: Path) -> None:
    """Adds every link that is not on the chain: it moves with the link it hangs on.

    Joints off the chain, such as those of fingers or of a second arm, stand still at zero.
    """
    again = True
    while again:
        again = False
        for joint in robot.findall("joint"):
            parent, child = ends(joint, path)
            if parent in frames and child not in frames:
                number, pose = frames[parent]
                frames[child] = (number, pose @ origin(joint, name(joint, path)))
                again = True
            elif child in frames and parent not in frames:
                number, pose = frames[child]
                frames[parent] = (number, pose @ se3.inverse(origin(joint, name(joint, path))))
                again = True
