"""Arms: a URDF that loads, a chain that is found, a home within the limits."""

from __future__ import annotations

import math
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from handfast.checking.case import Case, Rule
from handfast.geometry.mesh import MeshError, read_mesh
from handfast.kinematics.chain import ArmError, Chain, load_chain
from handfast.kinematics.forward import forward
from handfast.model.arm import Arm
from handfast.model.finding import Finding
from handfast.model.package_file import PREFIX, SHARE
from handfast.model.shape import Mesh
from handfast.spatial import se3

SAME_POSITION, SAME_TURN = 0.5e-3, math.radians(0.1)
"""What a data sheet's rounding may make of a pose [m, rad]; common practice, no source."""
LONGEST_LINK = 3.0
"""Longest edge [m] of the box around a link: above it a mesh was drawn in mm; common practice, no source."""
LINK_MESHES = (".stl", ".obj")
"""What link meshes may be: the two that carry no unit of their own, so that a URDF's scale says it all."""


def chains(case: Case) -> Iterator[Finding]:
    """Arms that cannot be loaded, and homes that they cannot reach."""
    for arm in case.project.cell.arms:
        path = ("cell", "arms", arm.name)
        try:
            chain = load_chain(arm, case.project.folder)
        except (ArmError, ValueError) as error:  # a number in the URDF that is none is a plain ValueError
            key = _key(str(error))
            text = _shown(str(error), case.project.folder)
            yield case.finding("arm-unloadable", (*path, key), "an arm that can be loaded", text)
            continue
        yield from _link_meshes(case, arm, chain)
        yield from _layout_poses(case, arm, chain)
        for i, (q, low, high) in enumerate(zip(arm.home, chain.lower, chain.upper, strict=True)):
            if not low <= q <= high:
                expected = f"joint {chain.joints[i]!r} between {_deg(low)} and {_deg(high)}"
                yield case.finding("home-outside-limits", (*path, "home", str(i)), expected, _deg(q))
    yield from _grippers(case, case.project.cell.arms)


def _shown(text: str, folder: str) -> str:
    """A message with paths as a person would write them."""
    for home in (f"{folder}/", *(f"{Path(place) / SHARE}/" for place in dict.fromkeys(sys.path))):
        text = text.replace(home, "" if home == f"{folder}/" else PREFIX)
    return text


def _link_meshes(case: Case, arm: Arm, chain: Chain) -> Iterator[Finding]:
    """Meshes of links that cannot be read, or that are too large for any arm on a table."""
    path = ("cell", "arms", arm.name, "urdf")
    for mesh in dict.fromkeys(s.shape for _, s in chain.solids if isinstance(s.shape, Mesh)):
        shown = _shown(mesh.path, case.project.folder)
        try:
            vertices, _ = read_mesh(mesh.path, mesh.scale)
        except MeshError as error:
            text = _shown(str(error), case.project.folder)
            fix = (
                ""
                if mesh.path.lower().endswith(LINK_MESHES)
                else f"convert {shown} and name that in the URDF"
            )
            yield case.finding("link-mesh", path, "link meshes that can be read", text, fix)
            continue
        longest = float(np.max(np.ptp(vertices, axis=0)))
        if longest > LONGEST_LINK:
            expected = f"links of at most {LONGEST_LINK:g} m"
            found, fix = f"{shown}, {longest:.4g} m long", 'write `scale="0.001 0.001 0.001"` beside it'
            yield case.finding("link-mesh", path, expected, found, fix)


def _layout_poses(case: Case, arm: Arm, chain: Chain) -> Iterator[Finding]:
    """Poses of a data sheet that the lengths do not lead to."""
    for i, pose in enumerate(arm.layout.poses if arm.layout is not None else ()):
        T_base_flange = se3.inverse(chain.base) @ forward(chain, pose.joints)[0]
        path = ("cell", "arms", arm.name, "layout", "poses", str(i))
        x, y, z = 1e3 * T_base_flange[:3, 3]
        off, turned = se3.distance(T_base_flange, pose.flange.matrix)
        if off > SAME_POSITION:
            expected = f"the lengths to lead there: ({x:.2f}, {y:.2f}, {z:.2f}) mm"
            found = f"{1e3 * off:.2f} mm away"
            yield case.finding(
                "layout-pose", (*path, "position"), expected, found, "check the lengths, `zero`"
            )
        if pose.turned and turned > SAME_TURN:
            found = f"turned {_deg(turned)} away"
            fix = "check `zero` and `reversed`"
            yield case.finding("layout-pose", (*path, "turn"), "the joints to lead there", found, fix)


def _key(message: str) -> str:
    if ": hose " in message:
        return "hoses"
    return next((key for key in ("home", "max_acceleration") if f": {key} needs" in message), "urdf")


def _grippers(case: Case, arms: tuple[Arm, ...]) -> Iterator[Finding]:
    for arm in arms:
        carried = [g.name for g in case.project.cell.grippers if g.arm == arm.name]
        if len(carried) > 1:
            second = ("cell", "grippers", carried[1], "arm")
            found = f"{len(carried)} on {arm.name!r}: {', '.join(carried)}"
            yield case.finding("one-gripper", second, "one gripper on an arm", found)
        if not carried and not any(p[:2] == ("cell", "grippers") for p in case.broken):
            path = ("cell", "arms", arm.name)
            yield case.finding(
                "one-gripper", path, "a gripper on this arm", "none", f"add one with `arm: {arm.name}`"
            )


def _deg(angle: float) -> str:
    return f"{math.degrees(angle):.4g} deg"


RULES = (
    Rule(
        "arm-unloadable",
        "The URDF is read, and joints lead from `root` to `tip`; home and max_acceleration have one "
        "value for each moving joint.",
        chains,
    ),
    Rule(
        "link-mesh",
        "The collision meshes that a URDF names lie beside it or in an installed package, and are STL or OBJ "
        "in metres times their scale.",
    ),
    Rule(
        "layout-pose",
        "The lengths of a layout must lead to the poses that the data sheet gives, within 0.5 mm and "
        "0.1 deg: a length read from the wrong drawing shows here.",
    ),
    Rule("home-outside-limits", "Home lies within the joint limits of the URDF."),
    Rule("one-gripper", "Every arm carries one gripper: the hand that its name stands for."),
)
