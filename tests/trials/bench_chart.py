"""A small chart made by hand.

The right hand takes a pin from a tray, touches the block and puts the pin in its bore.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from handfast.files.project_reader import read_project
from handfast.kinematics.chain import Chain, load_chain
from handfast.kinematics.inverse import inverse
from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.error_source import Changes, ErrorSource
from handfast.model.grasp import Grasp
from handfast.model.holder import Holder, Place
from handfast.model.ledger import Band, Ledger, TouchUpdate
from handfast.model.motion import Motion
from handfast.model.project import Project
from handfast.model.scene import Attachment, Scene
from handfast.model.touch import Touch
from handfast.motion.line import between, waypoints
from handfast.motion.timing import timed
from handfast.spatial import se3
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import Array

FOLDER = Path(__file__).parents[2] / "projects" / "first-fit"
GRASP = Grasp(
    "right_gripper", "pin",
    Pose.from_matrix(se3.inverse(se3.translation(0, 0, 0.012) @ se3.rotation(np.array([1.0, 0, 0]), np.pi))),
    0.008, ("top",), "groove", (True, True, False, True, True, False), 76.0, 0.3,
)  # fmt: skip
TRAVEL = 0.004


def bench_project(*errors: ErrorSource) -> Project:
    """First-fit's arms with a block in the nest and a pin, tip down, in a tray in front of the right arm."""
    found, findings = read_project(FOLDER)
    assert found is not None, findings
    nest = found.cell.holder("nest")
    seat = replace(nest.places[0], slack=0.0)
    tray = Holder("tray", "tray", Pose((0.25, 0.4, 0.0)), (), (Place("pin", Pose((0.0, 0.0, 0.03)), "pin"),))
    cell = replace(found.cell, holders=(replace(nest, places=(seat,)), tray))
    parts = tuple(p for p in found.product.parts if p.name in ("block", "pin"))
    product = replace(found.product, parts=parts, mates=found.product.mates[:1])
    return replace(found, cell=cell, product=product, errors=errors)


def source(acts_on: str, *sigma: float, changes: Changes = "cycle") -> ErrorSource:
    """An error source; sigma: as many freedoms as are not zero."""
    six = (*sigma, *([0.0] * (6 - len(sigma))))
    return ErrorSource(acts_on, acts_on, six, changes)  # type: ignore[arg-type]


def ledger(gain: tuple[float, ...] = (-1.0, 0, 0, 0, 0, 0), mate: str = "pin-in-bore") -> Ledger:
    """What the touch tells: the face further off by 1 means the pin is off by `gain` in the bore's frame."""
    update = TouchUpdate("pin-in-bore/04-locate-right", mate, gain, 3e-4)
    return Ledger("", (), Band(1, 1), Band(1, 1), (update,))


def bench_chart(project: Project) -> Chart:
    """Reach, grasp, move, locate, move, position, assemble, release."""
    return _Bench(project).chart()


class _Bench:
    def __init__(self, project: Project) -> None:
        self.project = project
        self.chain: Chain = load_chain(project.cell.arm("right"), project.folder)
        self.q = self.chain.home
        self.elements: list[Element] = []

    def chart(self) -> Chart:
        pin, block = self.place("tray"), self.place("nest")
        bore = block @ self.project.product.part("block").feature("bore").frame.matrix
        # Tip down: the pin's own z points up, the bore's down.
        home = bore @ se3.translation(0, 0, 0.02) @ se3.inverse(self.feature("tip"))
        above = se3.translation(0, 0, 0.05)
        end = (block @ self.project.product.part("block").feature("end").frame.matrix)[:3, 3]
        # 4 mm beside the face, the pin's tip 7 mm above the face's middle.
        contact = se3.translation(end[0] - 0.004, end[1], end[2] + 0.027)
        before = se3.translation(-TRAVEL, 0, 0) @ contact
        mouth = se3.translation(0, 0, 0.021) @ home
        touch = Touch(
            "pin", (0.004, 0.0, -0.015), "block", "end", (0.0, 0.0, -1.0), TRAVEL, 0.003, 3.0, 0.005
        )
        release = Attachment("pin", "part.block", Pose.from_matrix(se3.inverse(block) @ home))
        self.add(
            "reach", "place.tray.pin", self.free(above @ pin), self.line(above @ pin, pin), opening=0.024
        )
        self.add("grasp", "place.tray.pin", grasp=GRASP)
        self.add("move", "block.end", self.line(pin, above @ pin), self.free(above @ before))
        self.add("locate", "block.end", self.line(above @ before, before), self.line(before, contact, 0.005),
                 self.line(contact, before), self.line(before, above @ before),
                 touch=touch, guarded=1)  # fmt: skip
        self.add("move", "block.bore", self.free(above @ mouth))
        self.add("position", "block.bore", self.line(above @ mouth, mouth))
        self.add("assemble", "block.bore", self.line(mouth, home, 0.02))
        self.add("release", "block.bore", self.line(home, above @ home), opening=0.024, leaves=release)
        start = Scene(
            (Attachment("block", "place.nest.seat", Pose()), Attachment("pin", "place.tray.pin", Pose()))
        )
        return Chart("bench", ("left", "right"), start, tuple(self.elements), ("pin-in-bore",), 1.0, 1.0)

    def place(self, name: str) -> Array:
        holder = self.project.cell.holder(name)
        return np.asarray(holder.pose.matrix @ holder.places[0].pose.matrix)

    def feature(self, name: str) -> Array:
        return self.project.product.part("pin").feature(name).frame.matrix

    def tip(self, T_world_pin: Array) -> Array:
        mount = self.project.cell.gripper_of("right").mount.matrix
        return np.asarray(T_world_pin @ se3.inverse(GRASP.T_grip_part.matrix) @ se3.inverse(mount))

    def free(self, T_world_pin: Array) -> Motion:
        q, valid = inverse(self.chain, self.tip(T_world_pin)[None], self.q)
        found = q[0][valid[0]]
        goal = found[np.argmin(np.abs(found - self.q).max(axis=1))]
        motion = timed(self.chain, np.array([self.q, goal]), "free")
        self.q = goal
        return motion

    def line(self, a: Array, b: Array, speed: float = 0.1) -> Motion:
        path = waypoints(self.chain, between(self.tip(a), self.tip(b)), self.q)
        assert path is not None
        least = np.full(len(path) - 1, float(np.linalg.norm(b[:3, 3] - a[:3, 3])) / speed / (len(path) - 1))
        self.q = path[-1]
        return timed(self.chain, path, "line", least)

    def add(self, kind: str, target: str, *motions: Motion, **more: object) -> None:
        number = len(self.elements) + 1
        start = sum(e.duration_s for e in self.elements)
        blank = Element(f"pin-in-bore/{number:02d}-{kind}-right", number, "right", kind, "pin", target,  # type: ignore[arg-type]
                        "pin-in-bore", start, 0.5 + sum(m.duration for m in motions),
                        motions=motions)  # fmt: skip
        self.elements.append(replace(blank, **more))  # type: ignore[arg-type]
