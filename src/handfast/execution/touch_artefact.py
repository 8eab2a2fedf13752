"""Both arms touch the ball of an artefact that a person sets down in one region after another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from handfast.execution.anew import NoWayAnewError
from handfast.execution.arm_way import ArmWay
from handfast.execution.ball_round import BallPlanner, BallTouch
from handfast.execution.cell import Cell, CellError
from handfast.execution.failure import FailureError
from handfast.execution.journal import Journal
from handfast.execution.person import AWAY, ENTER, Person, Step
from handfast.kinematics.chain import Chain
from handfast.kinematics.forward import forward
from handfast.model.artefact import Artefact, Stand
from handfast.model.element import Element
from handfast.model.jaw_limits import AT_STOP
from handfast.model.project import Project
from handfast.model.recovery import Cause
from handfast.model.run_log import RunLog
from handfast.spatial.pose import Pose

LEAST_FORCE = 5.0  # [N]; own choice, no source
_NOISES = 4.0  # the threshold stands this many sigma of the sensor's noise above nothing
_AT_HOME = 1e-3  # [rad]
STOPS = (FailureError, NoWayAnewError, CellError)
"""What ends a routine; what was measured before stays in its log."""


@dataclass(frozen=True, slots=True)
class Asked:
    """artefact; stands: to visit, in order; repeats: of every touch."""

    artefact: Artefact
    stands: tuple[Stand, ...]
    repeats: int = 3


def touch_artefact(
    project: Project,
    cell: Cell,
    chains: dict[str, Chain],
    planner: BallPlanner,
    person: Person,
    journal: Journal,
    asked: Asked,
) -> RunLog:
    """At each stand every hand in turn touches the ball with its closed fingers and goes home again.

    Every touch is written at once, so that what was measured before a stop is kept. Lines of event "ball":
    the pose of the arm's tip by its own reckoning where the guarded move began, its direction and travel.
    """
    now = line_of("commission/artefact", project.cell.arms[0].name)
    try:
        for name in chains:
            must_be_home(project, cell, name)
        for count, stand in enumerate(asked.stands):
            now = line_of(f"commission/{asked.artefact.name}/{stand.name}", now.hand)
            if not person.done(_step(asked, stand, count)):
                raise FailureError("", "stopped by the person", _go_on(asked.stands[count:]))
            cell.placed(asked.artefact.name, f"stand.{asked.artefact.name}.{stand.name}")
            journal.note(now, "placed", f"{asked.artefact.name} at {stand.name}")
            for name in chains:
                _hand(project, cell, chains, planner, journal, asked, stand, count, name)
        cell.placed(asked.artefact.name, "")
    except STOPS as failure:
        return stopped(journal, now, failure)
    return journal.ended()


def _step(asked: Asked, stand: Stand, count: int) -> Step:
    x, y, z = (1e3 * v for v in asked.artefact.ball_at(stand))
    name, slack = asked.artefact.name, 1e3 * asked.artefact.slack
    return Step(
        f"{name} at {stand.name} ({count + 1} of {len(asked.stands)})",
        (
            ENTER,
            f"Set {name} down so that the middle of its ball is at x {x:.0f} mm, y {y:.0f} mm, z {z:.0f} mm, "
            f"within {slack:.1f} mm; it need not be better.",
            "See that it stands firm and that ball and fingers are clean; hands, trays and holders are as at "
            "the start of a build.",
            AWAY,
        ),
    )


def _go_on(left: Sequence[Stand]) -> str:
    names = ",".join(s.name for s in left)
    return f"what was measured is in the log; go on with --stands {names} and give `learn` both logs"


def _hand(
    project: Project,
    cell: Cell,
    chains: dict[str, Chain],
    planner: BallPlanner,
    journal: Journal,
    asked: Asked,
    stand: Stand,
    count: int,
    hand: str,
) -> None:
    """One hand at one stand. Raises FailureError, NoWayAnewError or CellError."""
    element = line_of(f"commission/{asked.artefact.name}/{stand.name}/{hand}", hand)
    found = planner.touches(
        asked.artefact.name, stand.name, hand, {name: cell.state(name).q for name in chains}
    )
    for why in found.left_out:
        journal.note(element, "left out", why)
    gripper = project.cell.gripper_of(hand)
    if count == 0:
        width = cell.grip(hand, gripper.opening[0], gripper.force)
        if width > gripper.opening[0] + AT_STOP:
            raise FailureError(
                "wrong width",
                f"the {hand} jaws closed to {1e3 * width:.2f} mm: something is between them",
                f"take it out; nothing may be in the {hand} hand",
            )
    cell.zero_force(hand)
    way = ArmWay(cell, hand, chains[hand])
    force = threshold(project, hand)
    for touch in found.touches:
        for motion in touch.to:
            way.go(motion)
        for _ in range(asked.repeats):
            way.go(touch.near)
            _touch(project, cell, chains[hand], journal, element, asked.artefact, touch, count, force)
            way.go(touch.away)
    for motion in found.home:
        way.go(motion)
    journal.stands(element, hand, "done")


def _touch(
    project: Project, cell: Cell, chain: Chain, journal: Journal, element: Element, artefact: Artefact,
    touch: BallTouch, count: int, force: float,
) -> None:  # fmt: skip
    hand, control = element.hand, project.cell.controller
    cell.pause(control.settle)
    T_world_tip = forward(chain, np.array(cell.state(hand).q))[0]
    met = cell.guarded_move(hand, touch.direction, touch.travel, touch.overtravel, force, control.touch_speed)
    x, y, z = touch.direction
    journal.note(
        element, "ball", f"{artefact.name}/{element.id.split('/')[2]}/{hand}/{touch.name}",
        Pose.from_matrix(T_world_tip), met=met.contact, travel=met.travel, x=x, y=y, z=z, placed=count,
    )  # fmt: skip
    if not met.contact:
        raise FailureError(
            "no contact",
            f"the {hand} hand did not meet {artefact.name} within "
            f"{1e3 * (touch.travel + touch.overtravel):.1f} mm ({touch.name})",
            f"look where {artefact.name} stands and set it down closer to its stand, or raise its slack in "
            "cell.yaml",
        )


def threshold(project: Project, hand: str) -> float:
    """Of a guarded move [N]."""
    sensor = next((s for s in project.cell.force_sensors if s.arm == hand), None)
    return LEAST_FORCE if sensor is None else max(LEAST_FORCE, _NOISES * sensor.noise)


def must_be_home(project: Project, cell: Cell, hand: str) -> None:
    """Raises FailureError for an arm that stands elsewhere."""
    off = np.abs(np.array(cell.state(hand).q) - np.array(project.cell.arm(hand).home)).max()
    if off > _AT_HOME:
        raise FailureError(
            "cell",
            f"the {hand} arm stands {np.degrees(off):.2f} deg from its home",
            "lead both arms home by their own means, jaws empty",
        )


def stopped(journal: Journal, now: Element, failure: Exception) -> RunLog:
    """The log of a routine that one of STOPS ended at `now`."""
    cause: Cause = failure.cause if isinstance(failure, FailureError) else "cell"
    journal.add(now, "stop", {}, str(failure), cause=cause)
    return journal.ended(str(failure), cause)


def line_of(name: str, hand: str) -> Element:
    """What the log's lines are put down to: no element of a chart."""
    return Element(name, 0, hand, "locate", "", "", "", 0.0, 0.0)
