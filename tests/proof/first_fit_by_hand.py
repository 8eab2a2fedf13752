"""The whole first-fit process by hand: pin with a handover and a touch, cover held, screw driven."""

from __future__ import annotations

from functools import cache

import numpy as np
from tests.proof.chart_by_hand import Array, ByHand, duration, first_fit, grasp

from handfast.model.chart import Chart
from handfast.model.scene import Attachment
from handfast.model.touch import Touch
from handfast.spatial import se3
from handfast.spatial.pose import Pose

CLOSE = 0.4
DOWN = se3.rotation(np.array([1.0, 0, 0]), np.pi)
"""Grip z down, y across the table."""
OVER = [0.0, 0.5, 1.6, 0.0, 1.04, 0.0]


def at(x: float, y: float, z: float, turn: Array = DOWN) -> Array:
    """A pose in the world, position in mm."""
    return np.asarray(se3.translation(x / 1e3, y / 1e3, z / 1e3) @ turn)


@cache
def by_hand() -> tuple[ByHand, Chart]:
    """The builder and the finished chart."""
    b = ByHand(first_fit())
    pin_in(b)
    cover_on(b)
    _screw(b)
    return b, b.chart({"left": 0.070, "right": 0.070})


def pin_in(b: ByHand) -> None:
    """The pin, with a handover and a touch."""
    mate = "pin-in-bore"
    up = b.free("left", at(-230, 330, 160), seeds=[0.5, *OVER[1:]]) + b.line("left", at(-230, 330, 37))
    b.add("left", "reach", "pin", duration(up), motions=up, opening=0.030, mate=mate)
    left = grasp("left", "pin", se3.translation(0, 0, 0.005), 0.008, "groove", ("tip",))
    b.add("left", "grasp", "pin", CLOSE, grasp=left, mate=mate)
    # Hand to hand over the nest: left grip z along +x, right grip z along -x, fingers crossed.
    x_ahead = np.eye(4)
    x_ahead[:3, :3] = np.array([[0, 0, 1.0], [0, 1, 0], [-1, 0, 0]])
    x_back = np.eye(4)
    x_back[:3, :3] = np.array([[0, 0, -1.0], [1, 0, 0], [0, -1, 0]])
    lift = b.line("left", at(-230, 330, 160)) + b.free("left", at(-100, 380, 420, x_ahead))
    b.add("left", "move", "pin", duration(lift), motions=lift, opening=0.008, mate=mate)
    # left grip at x = -100: pin from -115 to -75; its middle at -95.
    meet = b.free("right", at(20, 380, 420, x_back)) + b.line("right", at(-90, 380, 420, x_back))
    b.add("right", "reach", "pin", duration(meet), motions=meet, opening=0.030, mate=mate)
    T_grip_pin = se3.inverse(at(-90, 380, 420, x_back)) @ at(-95, 380, 420, x_ahead)
    b.add(
        "right",
        "grasp",
        "pin",
        CLOSE,
        grasp=grasp("right", "pin", T_grip_pin, 0.008, "groove", ("top",)),
        mate=mate,
    )
    away = b.line("left", at(-140, 380, 420, x_ahead)) + b.joints("left", b.project.cell.arm("left").home)
    leaves = Attachment("pin", "hand.right", Pose.from_matrix(T_grip_pin))
    b.add(
        "left", "release", "pin", duration(away, CLOSE), motions=away, opening=0.030, leaves=leaves, mate=mate
    )
    # The pin hangs tip down; its side touches the block's end face at x = -50.
    beside = b.free("right", at(-70, 450, 120), at(-64, 450, 50))
    b.add("right", "move", "pin", duration(beside), motions=beside, opening=0.008, mate=mate)
    guarded = b.line("right", at(-54, 450, 50)) + b.line("right", at(-64, 450, 50))
    point = se3.inverse(T_grip_pin) @ np.array([*_into_grip(b, at(-64, 450, 50)), 1.0])
    where = (float(point[0]), float(point[1]), float(point[2]))
    touch = Touch("pin", where, "block", "end", (0.0, 0.0, -1.0), 0.010, 0.002, 2.0, 0.005)
    b.add("right", "locate", "pin", duration(guarded), motions=guarded, opening=0.008, touch=touch, mate=mate)
    above = (
        b.line("right", at(-64, 450, 120))
        + b.free("right", at(-28, 450, 120))
        + b.line("right", at(-28, 450, 73))
    )
    b.add("right", "position", "pin", duration(above), motions=above, opening=0.008, mate=mate)
    into = b.line("right", at(-28, 450, 50), 4e-3)
    b.add("right", "assemble", "pin", duration(into), motions=into, opening=0.008, mate=mate)
    T_block_pin = se3.inverse(se3.translation(0, 0.45, 0.015)) @ at(-28, 450, 50) @ T_grip_pin
    leaves = Attachment("pin", "part.block", Pose.from_matrix(T_block_pin))
    back = b.line("right", at(-28, 450, 140)) + b.joints("right", b.project.cell.arm("right").home)
    b.add(
        "right",
        "release",
        "pin",
        duration(back, CLOSE),
        motions=back,
        opening=0.030,
        leaves=leaves,
        mate=mate,
    )


def _into_grip(b: ByHand, T_world_grip: Array) -> Array:
    """The point of the pin's side that faces +x, 10 mm above its tip, in the grip frame."""
    tip = 50 + 15 - 40
    return np.asarray(
        (se3.inverse(T_world_grip) @ np.array([-0.064 + 0.004, 0.45, (tip + 10) / 1e3, 1.0]))[:3]
    )


def _lean(degrees: float) -> Array:
    """Grip z down and leaning, the hand towards -x."""
    return np.asarray(se3.rotation(np.array([0.0, 1, 0]), -np.deg2rad(degrees)) @ DOWN)


def cover_on(b: ByHand) -> None:
    """The cover, which the left hand then holds."""
    mate = "cover-on-block"
    lean = _lean(20)
    reach = b.free("left", at(-260, 420, 200, lean), seeds=[0.5, *OVER[1:]]) + b.line(
        "left", at(-260, 420, 34, lean)
    )
    b.add("left", "reach", "cover", duration(reach), motions=reach, opening=0.060, mate=mate)
    T_grip_cover = se3.inverse(at(-260, 420, 34, lean)) @ se3.translation(-0.23, 0.42, 0.030)
    held = grasp("left", "cover", T_grip_cover, 0.046, "tip", ("left_side", "right_side"))
    b.add("left", "grasp", "cover", CLOSE, grasp=held, mate=mate)
    lift = (
        b.line("left", at(-260, 420, 150, lean))
        + b.free("left", at(-30, 450, 150, lean))
        + b.line("left", at(-30, 450, 74, lean))
    )
    b.add("left", "move", "cover", duration(lift), motions=lift, opening=0.046, mate=mate)
    onto = b.line("left", at(-30, 450, 49, lean), 4e-3)
    b.add("left", "assemble", "cover", duration(onto), motions=onto, opening=0.046, mate=mate)


def driver_taken(b: ByHand) -> None:
    """The right hand takes the driver from its stand."""
    mate = "cover-screw"
    reach = b.free("right", at(330, 330, 400)) + b.line("right", at(330, 330, 33 + 215))
    b.add("right", "reach", "driver", duration(reach), motions=reach, opening=0.050, mate=mate)
    T_grip_driver = se3.inverse(at(330, 330, 33 + 215)) @ se3.translation(0.33, 0.33, 0.033)
    held = grasp("right", "driver", T_grip_driver, 0.030, "tip", ("flat_left", "flat_right"))
    b.add("right", "grasp", "driver", CLOSE, grasp=held, mate=mate)


def _screw(b: ByHand) -> None:
    mate = "cover-screw"
    driver_taken(b)
    fetch = (
        b.line("right", at(330, 330, 380))
        + b.free("right", at(230, 520, 330))
        + b.line("right", at(230, 520, 34 + 215))
    )
    b.add("right", "move", "driver", duration(fetch), motions=fetch, opening=0.030, mate=mate)
    bit = b.project.cell.tool("driver").bit.matrix
    T_bit_screw = se3.inverse(se3.translation(0.23, 0.52, 0.034) @ bit) @ se3.translation(0.23, 0.52, 0.030)
    leaves = Attachment("screw", "tool.driver", Pose.from_matrix(T_bit_screw))
    b.add("right", "use", "screw", 0.3, leaves=leaves, opening=0.030, mate=mate)
    # The screw's tip 3 mm over the cover (top at 51), then home: head seat at 51, bit at 55.
    carry = (
        b.line("right", at(230, 520, 340))
        + b.free("right", at(38, 450, 360))
        + b.line("right", at(38, 450, 70 + 215))
    )
    b.add("right", "position", "screw", duration(carry), motions=carry, opening=0.030, mate=mate)
    drive = b.line("right", at(38, 450, 55 + 215), 4e-3)
    T_block_screw = se3.inverse(se3.translation(0, 0.45, 0.015)) @ se3.translation(0.038, 0.45, 0.051)
    leaves = Attachment("screw", "part.block", Pose.from_matrix(T_block_screw))
    b.add(
        "right", "use", "screw", duration(drive, 1.0), motions=drive, leaves=leaves, opening=0.030, mate=mate,
        torque=1.8, turns=2 * np.pi * 6 / 0.7,  # 6 mm into the thread; pitch of M4: ISO 261
    )  # fmt: skip
    back = (
        b.line("right", at(38, 450, 360))
        + b.free("right", at(330, 330, 380))
        + b.line("right", at(330, 330, 33 + 215))
    )
    b.add("right", "move", "driver", duration(back), motions=back, opening=0.030, mate=mate)
    leaves = Attachment("driver", "place.stand.driver", Pose())
    home = b.line("right", at(330, 330, 400)) + b.joints("right", b.project.cell.arm("right").home)
    b.add(
        "right",
        "release",
        "driver",
        duration(home, CLOSE),
        motions=home,
        opening=0.050,
        leaves=leaves,
        mate=mate,
    )
    lean = _lean(20)
    T_block_cover = se3.inverse(se3.translation(0, 0.45, 0.015)) @ se3.translation(0, 0.45, 0.045)
    leaves = Attachment("cover", "part.block", Pose.from_matrix(T_block_cover))
    home = b.line("left", at(-30, 450, 150, lean)) + b.joints("left", b.project.cell.arm("left").home)
    b.add(
        "left",
        "release",
        "cover",
        duration(home, CLOSE),
        motions=home,
        opening=0.060,
        leaves=leaves,
        mate=mate,
    )
