"""A chart of projects/first-fit written by hand: what a planner would make, and where the hands stop."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from handfast.files.project_reader import read_project
from handfast.model.chart import Chart
from handfast.model.element import Element, ElementKind
from handfast.model.grasp import Grasp
from handfast.model.project import Project
from handfast.model.scene import Attachment, Scene
from handfast.model.touch import Touch
from handfast.spatial import se3
from handfast.spatial.pose import Pose

Array = NDArray[np.float64]
FOLDER = Path(__file__).parents[2] / "projects" / "first-fit"
X, Y, Z = np.eye(3)
TURN = math.pi


def at(x: float, y: float, z: float, axis: Array = Z, angle: float = 0.0) -> Array:
    """A pose: position in mm, then turned."""
    return np.asarray(se3.translation(x * 1e-3, y * 1e-3, z * 1e-3) @ se3.rotation(axis, angle))


def grasp(gripper: str, item: str, T_item_grip: Array, closed: str) -> Grasp:
    """closed: six characters, "1" where the jaws set the freedom."""
    pattern = tuple(c == "1" for c in closed)
    pose = Pose.from_matrix(se3.inverse(T_item_grip))
    return Grasp(gripper, item, pose, 0.008, (), "tip", pattern, 54.0, 0.5)  # type: ignore[arg-type]


def first_fit() -> Project:
    """The project as the user wrote it."""
    project, _ = read_project(FOLDER)
    if project is None:
        raise AssertionError("projects/first-fit does not load")
    return project


PROJECT = first_fit()


def place(item: str) -> Array:
    """T_world_item at the start."""
    holder, where = PROJECT.cell.place_of(item)
    return np.asarray(holder.pose.matrix @ where.pose.matrix)


def shift(part: str, feature: str, sign: float = 1.0) -> Array:
    """The translation to a feature of a part (or back): everything in this product stands upright."""
    x, y, z = (sign * v for v in PROJECT.product.part(part).feature(feature).frame.position)
    return se3.translation(x, y, z)


# Poses of the items in the world, and of the hands on the items.
T_BLOCK = place("block")
T_PIN_TRAY = place("pin")
T_PIN_HANDOVER = at(20, 330, 350, Y, 0.5 * TURN) @ at(0, 0, 0, Z, 0.3)
T_PIN_CONTACT = T_BLOCK @ shift("block", "end") @ at(-4, 0, 6)
T_PIN_HOME = T_BLOCK @ shift("block", "bore") @ at(0, 0, -20) @ shift("pin", "tip", -1)
T_COVER_TRAY = place("cover")
T_COVER_HOME = T_PIN_HOME @ shift("pin", "top") @ at(0, 0, -20) @ shift("cover", "pin_hole", -1)
T_DRIVER_STAND = place("driver")
T_SCREW_BIT = at(0, 0, 2, X, TURN)
T_DRIVER_BIT = at(0, 0, 0, X, TURN)
T_SCREW_HOME = (
    T_BLOCK @ shift("block", "tapped") @ at(0, 0, -6) @ at(0, 0, 0, Z, 0.7) @ shift("screw", "shank", -1)
)

LEFT_ON_PIN = at(0, 0, -5)
RIGHT_ON_PIN = at(0, 0, 5, X, TURN)
LEFT_ON_COVER = at(-30, 0, 3, X, TURN)
RIGHT_ON_DRIVER = at(0, 0, 150, X, TURN)

GRASPS = {
    "left pin": grasp("left_gripper", "pin", LEFT_ON_PIN, "010100"),
    "right pin": grasp("right_gripper", "pin", RIGHT_ON_PIN, "110110"),
    "left cover": grasp("left_gripper", "cover", LEFT_ON_COVER, "010101"),
    "right driver": grasp("right_gripper", "driver", RIGHT_ON_DRIVER, "010101"),
}
TOUCH = Touch("pin", (0.004, 0.0, -0.018), "block", "end", (0.0, 0.0, -1.0), 0.005, 0.003, 2.0, 0.005)


def chart(with_touch: bool = True) -> Chart:
    """The pin by handover, the touch, the pin, the cover, the screw."""
    lines: list[tuple[ElementKind, str, str, str, dict[str, object]]] = [
        ("reach", "left", "pin", "pin-in-bore", {}),
        ("grasp", "left", "pin", "pin-in-bore", {"grasp": GRASPS["left pin"]}),
        ("move", "left", "pin", "pin-in-bore", {}),
        ("reach", "right", "pin", "pin-in-bore", {}),
        ("grasp", "right", "pin", "pin-in-bore", {"grasp": GRASPS["right pin"]}),
        ("release", "left", "pin", "pin-in-bore", {"leaves": Attachment("pin", "hand.right", Pose())}),
        *([("locate", "right", "pin", "pin-in-bore", {"touch": TOUCH})] if with_touch else []),  # type: ignore[list-item]
        ("assemble", "right", "pin", "pin-in-bore", {}),
        ("release", "right", "pin", "pin-in-bore", {"leaves": _on_block("pin", T_PIN_HOME)}),
        ("reach", "left", "cover", "cover-on-block", {}),
        ("grasp", "left", "cover", "cover-on-block", {"grasp": GRASPS["left cover"]}),
        ("assemble", "left", "cover", "cover-on-block", {}),
        ("reach", "right", "driver", "cover-screw", {}),
        ("grasp", "right", "driver", "cover-screw", {"grasp": GRASPS["right driver"]}),
        ("use", "right", "screw", "cover-screw", {"leaves": Attachment("screw", "tool.driver", _in_bit())}),
        ("use", "right", "screw", "cover-screw", {"leaves": _on_block("screw", T_SCREW_HOME)}),
        ("release", "left", "cover", "cover-screw", {"leaves": _on_block("cover", T_COVER_HOME)}),
    ]
    elements = tuple(
        Element(_name(i, line), i + 1, line[1], line[0], line[2], "", line[3], float(i), 1.0, **line[4])  # type: ignore[arg-type]
        for i, line in enumerate(lines)
    )
    mates = ("pin-in-bore", "cover-on-block", "cover-screw")
    return Chart("first-fit", ("left", "right"), _start(), elements, mates, 17.0, 17.0)


def hand_poses(of: Chart) -> dict[str, Array]:
    """T_world_grip where the chart's own poses do not say: at the handover and at the touch."""
    wanted = {"move": T_PIN_HANDOVER @ LEFT_ON_PIN, "locate": T_PIN_CONTACT @ RIGHT_ON_PIN}
    return {e.id: wanted[e.kind] for e in of.elements if e.kind in wanted}


def _name(index: int, line: tuple[ElementKind, str, str, str, dict[str, object]]) -> str:
    return f"{line[3]}/{index + 1:02d}-{line[0]}-{line[1]}"


def _on_block(item: str, T_world_home: Array) -> Attachment:
    return Attachment(item, "part.block", Pose.from_matrix(se3.inverse(T_BLOCK) @ T_world_home))


def _in_bit() -> Pose:
    return Pose.from_matrix(se3.inverse(T_SCREW_BIT))


def _start() -> Scene:
    places = (
        "nest.seat block",
        "tray.pin pin",
        "tray.cover cover",
        "presenter.screw screw",
        "stand.driver driver",
    )
    split = [p.split() for p in places]
    return Scene(tuple(Attachment(item, f"place.{place}", Pose()) for place, item in split))
