"""A ball touched by both arms of a small cell, in builds whose errors are drawn from declared sources."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np

from handfast.execution.anew import Stands
from handfast.execution.ball_round import BallRound, ToolRound
from handfast.execution.journal import Journal
from handfast.execution.person import Answered
from handfast.execution.touch_artefact import Asked, touch_artefact
from handfast.files.project_reader import read_project
from handfast.kinematics.chain import Chain, load_chain
from handfast.learning.ball_readings import BallReading, ball_readings
from handfast.mates.grasps import grasps
from handfast.model.artefact import Artefact, Stand
from handfast.model.error_source import ErrorSource
from handfast.model.grasp import Grasp
from handfast.model.project import Project
from handfast.model.run_log import RunLog
from handfast.model.shape import Cylinder, Solid
from handfast.spatial import se3
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import Array
from handfast.trials.draw import Draws
from handfast.trials.simulated_cell import SimulatedCell
from handfast.workflow.planned_rounds import PlannedRounds

FOLDER = Path(__file__).parents[2] / "projects" / "first-fit"
AT = ((0.0, 0.25), (0.0, 0.6), (-0.11, 0.3), (0.11, 0.3), (-0.11, 0.56), (0.11, 0.56))
BALL = Artefact(
    "ball", 0.0125, (0.0, 0.0, 0.12), (Solid(Cylinder(0.005, 0.1), Pose((0.0, 0.0, 0.05))),),
    tuple(Stand(f"stand_{i}", Pose((x, y, 0.0))) for i, (x, y) in enumerate(AT)),
)  # fmt: skip
MILLI, TURN = 1e-3, np.radians(0.01)


def declared(*, field: float = 0.1e-3, touch: float = 0.02e-3) -> tuple[ErrorSource, ...]:
    """Sources of both arms: where they stand, their fields, how they repeat and touch, and their jaws."""
    out = []
    for arm in ("left", "right"):
        tip, jaw = f"arm.{arm}.tip", f"gripper.{arm}_gripper.jaw"
        rows = (
            ("base", f"arm.{arm}.base", (0.12e-3, 0.12e-3, 0.06e-3, TURN, TURN, TURN), "installation", 0.0),
            ("field", tip, (field, field, field, TURN / 2, TURN / 2, TURN / 2), "installation", 0.2),
            ("repeats", tip, (8e-6, 8e-6, 8e-6, TURN / 5, TURN / 5, TURN / 5), "cycle", 0.0),
            ("touches", f"touch.{arm}", (touch, 0.0, 0.0, 0.0, 0.0, 0.0), "cycle", 0.0),
            ("jaws", jaw, (3e-5, 3e-5, 3e-5, 3 * TURN, 3 * TURN, 3 * TURN), "shift", 0.0),
        )
        for name, edge, sigma, changes, length in rows:
            source = ErrorSource(f"{arm} {name}", edge, sigma, changes, correlation_length=length)  # type: ignore[arg-type]
            if any(sigma):
                out.append(source)
    return tuple(out)


@cache
def project(errors: tuple[ErrorSource, ...] = declared()) -> Project:
    """First-fit with a ball, and these errors."""
    found, findings = read_project(FOLDER)
    assert found is not None, findings
    return replace(found, cell=replace(found.cell, artefacts=(BALL,)), errors=errors)


@cache
def chains() -> dict[str, Chain]:
    return {a.name: load_chain(a, str(FOLDER)) for a in project().cell.arms}


class Remembered:
    """Plans the way to each stand once, whichever build it is for: where arms really stand does not matter to
    it."""

    def __init__(self) -> None:
        self._planner = PlannedRounds(project())
        self._known: dict[tuple[str, str], BallRound] = {}
        self._tool: ToolRound | None = None

    def touches(self, artefact: str, stand: str, hand: str, q: Stands) -> BallRound:
        if (stand, hand) not in self._known:
            self._known[stand, hand] = self._planner.touches(artefact, stand, hand, q)
        return self._known[stand, hand]

    def bit_touches(self, artefact: str, stand: str, tool: str, q: Stands) -> ToolRound:
        if self._tool is None:
            self._tool = self._planner.bit_touches(artefact, stand, tool, q)
        return self._tool


PLANNER = Remembered()


@cache
def tool_grasps() -> tuple[Grasp, ...]:
    cell = project().cell
    return tuple(
        g for gripper in cell.grippers for t in cell.tools
        for g in grasps(gripper, t.name, t.features, t.mass, 0.15)
    )  # fmt: skip


def cell_of(real: Project, seed: int, planted: Array | None = None) -> SimulatedCell:
    """A build of its own. planted: what the right base is off by beyond what was drawn (6,), in its root
    frame."""
    cell = SimulatedCell(real, chains(), Draws(real.errors, seed, 0), tool_grasps())
    if planted is not None:
        base, drawn = real.cell.arm("right").base.matrix, cell.truth.T_base
        off = base @ se3.exp(planted) @ se3.inverse(base)
        cell.truth.T_base = lambda arm: drawn(arm) @ off if arm == "right" else drawn(arm)  # type: ignore[method-assign]
    return cell


def touched(cell: SimulatedCell, stands: int = len(AT), repeats: int = 2) -> RunLog:
    """Both arms, at the first stands."""
    asked = Asked(BALL, BALL.stands[:stands], repeats)
    log = touch_artefact(project(), cell, chains(), PLANNER, Answered(), Journal(cell, "cell"), asked)
    assert log.ended == "done", log.reason
    return log


def readings(cell: SimulatedCell, stands: int = len(AT), repeats: int = 2) -> list[BallReading]:
    """The touches of one build."""
    return ball_readings(project(), [touched(cell, stands, repeats)])


def true_base(cell: SimulatedCell) -> Array:
    """Twist (6,) of the right base from where it would stand to the left one, in its root frame."""
    base = cell.truth.project.cell.arm("right").base.matrix
    left, right = cell.truth.T_base("left"), cell.truth.T_base("right")
    return np.asarray(se3.log(se3.inverse(base) @ se3.inverse(left) @ right @ base))
