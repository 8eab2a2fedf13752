"""The cell: arms, grippers, tools, holders, sensors and what stands around."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.model.arm import Arm
from handfast.model.artefact import Artefact
from handfast.model.camera import Camera
from handfast.model.force_sensor import ForceSensor
from handfast.model.gripper import Gripper
from handfast.model.holder import Holder, Place
from handfast.model.named import find
from handfast.model.shape import Solid
from handfast.model.tool import Tool


@dataclass(frozen=True, slots=True)
class Obstacle:
    """Something that stands still in the cell, in the world frame."""

    name: str
    solids: tuple[Solid, ...]


@dataclass(frozen=True, slots=True)
class Controller:
    """cycle: period of the arm controller [s]; stop_delay: from contact seen to standstill begun [s];
    touch_speed: of a guarded move, insert_speed: of an insertion [m/s]; line_speed: of other straight
    approaches [m/s]; settle: wait before a measurement [s]; insertion support stiffness: lateral [N/m],
    angular [N m/rad] at the compliance centre."""

    cycle: float = 0.004
    stop_delay: float = 0.008
    touch_speed: float = 0.005
    insert_speed: float = 0.02
    line_speed: float = 0.1
    settle: float = 0.2
    lateral_stiffness: float = 20e3
    angular_stiffness: float = 50.0


@dataclass(frozen=True, slots=True)
class Cell:
    """Everything that stands in the cell, in the world frame."""

    arms: tuple[Arm, ...]
    grippers: tuple[Gripper, ...]
    tools: tuple[Tool, ...]
    holders: tuple[Holder, ...]
    obstacles: tuple[Obstacle, ...] = ()
    cameras: tuple[Camera, ...] = ()
    force_sensors: tuple[ForceSensor, ...] = ()
    controller: Controller = Controller()
    artefacts: tuple[Artefact, ...] = ()

    def arm(self, name: str) -> Arm:
        """The arm of that name. Raises KeyError with the names there are."""
        return find(self.arms, name, "arm")

    def gripper_of(self, arm: str) -> Gripper:
        """The gripper on that arm. Raises KeyError if it carries none."""
        for gripper in self.grippers:
            if gripper.arm == arm:
                return gripper
        raise KeyError(f"arm {arm!r} carries no gripper")

    def tool(self, name: str) -> Tool:
        """The tool of that name. Raises KeyError with the names there are."""
        return find(self.tools, name, "tool")

    def holder(self, name: str) -> Holder:
        """The holder of that name. Raises KeyError with the names there are."""
        return find(self.holders, name, "holder")

    def place_of(self, item: str) -> tuple[Holder, Place]:
        """Where a part or tool lies at the start. Raises KeyError if it lies nowhere."""
        for holder in self.holders:
            for place in holder.places:
                if place.holds == item:
                    return holder, place
        raise KeyError(f"{item!r} lies in no holder")
