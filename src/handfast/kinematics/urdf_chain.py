"""The chain of an arm, read from its URDF."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from functools import lru_cache
from pathlib import Path

import numpy as np

from handfast.kinematics.serial_chain import Chain, must_have_one_each
from handfast.kinematics.urdf_file import Frames, ends, hang_on, joints_between, parse, urdf_path
from handfast.kinematics.urdf_mesh import MeshFinder, mesh_finder
from handfast.kinematics.urdf_values import ArmError, axis, limits, name, origin, shape
from handfast.model.arm import Arm
from handfast.model.shape import Solid
from handfast.spatial import se3
from handfast.spatial.pose import Pose


def urdf_chain(arm: Arm, folder: str) -> Chain:
    """The chain of an arm whose URDF lies in the project folder or in an installed package. Raises
    ArmError."""
    path = urdf_path(arm, folder)
    return _read(arm, folder, path, path.stat().st_mtime_ns if path.exists() else 0)


@lru_cache(maxsize=16)
def _read(arm: Arm, folder: str, path: Path, _written: int) -> Chain:
    robot = parse(path)
    chain = joints_between(robot, arm, path)
    moving = [j for j in chain if j.get("type") != "fixed"]
    for joint in moving:
        if joint.get("type") not in ("revolute", "continuous"):
            raise ArmError(
                f"{path}: joint {joint.get('name')!r} between {arm.root!r} and {arm.tip!r}: "
                f"expected revolute, continuous or fixed, found {joint.get('type')!r}"
            )
    if not moving:
        raise ArmError(f"{path}: no moving joint between {arm.root!r} and {arm.tip!r}")
    return _assemble(arm, path, robot, chain, mesh_finder(arm, path, folder))


def _assemble(arm: Arm, path: Path, robot: ET.Element, chain: list[ET.Element], meshes: MeshFinder) -> Chain:
    joints, placements, axes, bounds = [], [], [], []
    offset = np.eye(4)  # from the frame of the last moving link to where we are
    frames: Frames = {arm.root: (-1, np.eye(4))}
    for joint in chain:
        offset = offset @ origin(joint, name(joint, path))
        if joint.get("type") != "fixed":
            joints.append(str(joint.get("name")))
            placements.append(offset)
            axes.append(axis(joint, path))
            bounds.append(limits(joint, path))
            offset = np.eye(4)
        frames[ends(joint, path)[1]] = (len(placements) - 1, offset)
    hang_on(robot, frames, path)
    must_have_one_each(arm, len(joints))
    tip = frames[arm.tip][1]
    lower, upper, velocity = (np.array(b) for b in zip(*bounds, strict=True))
    return Chain(
        name=arm.name,
        joints=tuple(joints),
        placements=np.array(placements),
        axes=np.array(axes),
        tip=tip,
        base=arm.base.matrix,
        lower=lower,
        upper=upper,
        velocity=velocity * arm.speed,
        acceleration=np.array(arm.max_acceleration),
        home=np.array(arm.home),
        solids=(*_solids(robot, frames, arm.tip, len(joints), path, meshes), *_hoses(arm, frames)),
    )


def _hoses(arm: Arm, frames: Frames) -> list[tuple[int, Solid]]:
    for hose in arm.hoses:
        if hose.link not in frames:
            known = ", ".join(frames)
            raise ArmError(
                f"arm {arm.name!r}: hose {hose.name!r}: expected a link, one of {known}; found {hose.link!r}"
            )
    return [
        (frames[hose.link][0], Solid(s.shape, Pose.from_matrix(frames[hose.link][1] @ s.pose.matrix)))
        for hose in arm.hoses
        for s in hose.solids
    ]


def _solids(
    robot: ET.Element, frames: Frames, tip_link: str, n: int, path: Path, meshes: MeshFinder
) -> list[tuple[int, Solid]]:
    out: list[tuple[int, Solid]] = []
    T_tip_last = se3.inverse(frames[tip_link][1])
    for link in robot.findall("link"):
        place = frames.get(str(link.get("name")))
        if place is None:
            continue
        for collision in link.findall("collision"):
            where = f"{name(link, path)}, collision"
            pose = place[1] @ origin(collision, where)
            index = place[0]
            if str(link.get("name")) == tip_link:  # the tip is a link of its own
                index, pose = n, T_tip_last @ pose
            out.append((index, Solid(shape(collision, where, meshes.find), Pose.from_matrix(pose))))
    return out
