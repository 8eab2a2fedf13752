"""The runout of a bit: it touches one ball from one side while its spindle is turned step by step."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.execution.arm_way import ArmWay
from handfast.execution.ball_round import BallPlanner, BallTouch, ToolRound
from handfast.execution.cell import Cell
from handfast.execution.failure import FailureError
from handfast.execution.journal import Journal
from handfast.execution.person import AWAY, ENTER, Person, Step
from handfast.execution.touch_artefact import STOPS, line_of, must_be_home, stopped, threshold
from handfast.kinematics.chain import Chain
from handfast.kinematics.forward import forward
from handfast.model.artefact import Artefact, Stand
from handfast.model.element import Element
from handfast.model.jaw_limits import WIDTH_OFF
from handfast.model.project import Project
from handfast.model.run_log import RunLog
from handfast.model.tool import Tool
from handfast.spatial.pose import Pose


@dataclass(frozen=True, slots=True)
class Turning:
    """steps: spindle angles to a turn at each height; repeats: touches at each."""

    artefact: Artefact
    stand: Stand
    tools: tuple[Tool, ...]
    steps: int = 12
    repeats: int = 3


def turn_bits(
    project: Project,
    cell: Cell,
    chains: dict[str, Chain],
    planner: BallPlanner,
    person: Person,
    journal: Journal,
    asked: Turning,
) -> RunLog:
    """Each tool in turn is taken up, touches the ball and is put back. Lines of event "bit": the pose of the
    bit by the arm's own reckoning where the guarded move began, direction, travel, spindle angle."""
    now = line_of("commission/runout", project.cell.arms[0].name)
    try:
        for name in chains:
            must_be_home(project, cell, name)
        if not person.done(_step(asked)):
            raise FailureError("", "stopped by the person", "nothing was measured")
        cell.placed(asked.artefact.name, f"stand.{asked.artefact.name}.{asked.stand.name}")
        for tool in asked.tools:
            found = planner.bit_touches(
                asked.artefact.name, asked.stand.name, tool.name, {n: cell.state(n).q for n in chains}
            )
            now = line_of(f"commission/runout/{tool.name}/{found.hand}", found.hand)
            _one(project, cell, chains[found.hand], journal, now, tool, found, asked)
        cell.placed(asked.artefact.name, "")
    except STOPS as failure:
        return stopped(journal, now, failure)
    return journal.ended()


def _step(asked: Turning) -> Step:
    x, y, z = (1e3 * v for v in asked.artefact.ball_at(asked.stand))
    name, tools = asked.artefact.name, ", ".join(t.name for t in asked.tools)
    return Step(
        f"{name} at {asked.stand.name}, for the runout of {tools}",
        (
            ENTER,
            f"Set {name} down so that the middle of its ball is at x {x:.0f} mm, y {y:.0f} mm, z {z:.0f} mm, "
            f"within {1e3 * asked.artefact.slack:.1f} mm.",
            f"See that {tools} hangs in its stand with the bit that is to be used, clean, no screw on it.",
            AWAY,
        ),
    )


def _one(
    project: Project, cell: Cell, chain: Chain, journal: Journal, now: Element, tool: Tool, found: ToolRound,
    asked: Turning,
) -> None:  # fmt: skip
    way = ArmWay(cell, found.hand, chain)
    for element in found.take:
        _carry_out(project, cell, way, element, tool.mass)
    for touch in found.touches:
        for motion in touch.to:
            way.go(motion)
        for i in range(asked.steps):
            for _ in range(asked.repeats):
                way.go(touch.near)
                _touch(project, cell, chain, journal, now, tool, found, touch, 2 * np.pi * i / asked.steps)
                way.go(touch.away)
            cell.turn(found.hand, 2 * np.pi / asked.steps)
    for element in found.back:
        _carry_out(project, cell, way, element, 0.0)
    for motion in found.home:
        way.go(motion)
    journal.stands(now, found.hand, "done")


def _carry_out(project: Project, cell: Cell, way: ArmWay, element: Element, mass: float) -> None:
    """Take up, carry or put back. Raises FailureError or CellError."""
    hand, gripper = element.hand, project.cell.gripper_of(element.hand)
    if element.kind in ("reach", "release"):
        cell.release(hand, gripper.opening[1] if element.opening is None else element.opening)
    if element.kind == "release":
        cell.set_payload(hand, 0.0)
    for motion in element.motions:
        way.go(motion)
    if element.kind != "grasp" or element.grasp is None:
        return
    width = cell.grip(hand, element.grasp.width, gripper.force)
    if abs(width - element.grasp.width) > WIDTH_OFF:
        raise FailureError(
            "missing part",
            f"the {hand} jaws closed to {1e3 * width:.2f} mm, {element.object} measures "
            f"{1e3 * element.grasp.width:.2f} mm",
            f"hang {element.object} in its stand",
        )
    cell.set_payload(hand, mass)


def _touch(
    project: Project, cell: Cell, chain: Chain, journal: Journal, now: Element, tool: Tool, found: ToolRound,
    touch: BallTouch, angle: float,
) -> None:  # fmt: skip
    hand, control = found.hand, project.cell.controller
    cell.pause(control.settle)
    cell.zero_force(hand)
    T_world_grip = (
        forward(chain, np.array(cell.state(hand).q))[0] @ project.cell.gripper_of(hand).mount.matrix
    )
    met = cell.guarded_move(
        hand, touch.direction, touch.travel, touch.overtravel, threshold(project, hand), control.touch_speed
    )
    x, y, z = touch.direction
    T_world_bit = T_world_grip @ found.T_grip_tool.matrix @ tool.bit.matrix
    journal.note(
        now, "bit", tool.name, Pose.from_matrix(T_world_bit), met=met.contact, travel=met.travel, x=x, y=y,
        z=z, angle=angle, height=float(touch.face) * 1e-3,
    )  # fmt: skip
    if not met.contact:
        raise FailureError(
            "no contact",
            f"the bit of {tool.name} did not meet the ball",
            "look where the artefact stands; take the tool out of the hand and hang it in its stand",
        )
