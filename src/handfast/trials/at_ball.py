"""The part of a simulated cell in which hands touch the ball of an artefact."""

from __future__ import annotations

import numpy as np

from handfast.execution.cell import CellError, GuardedResult
from handfast.model.tool import Spindle, Tool
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.trials.true_artefact import Ball, bit_meets, fingers_meet, set_down
from handfast.trials.true_cell import TrueCell


class AtBall:
    """ball: that a person has set down, None if none stands there."""

    def __init__(self, truth: TrueCell) -> None:
        self.ball: Ball | None = None
        self._truth, self._count = truth, 0
        self._jaws: dict[str, Array] = {}  # T_grip_jaw (4, 4) of jaws that closed on nothing

    def placed(self, item: str, region: str) -> None:
        """A person sets an artefact down there, or takes it away. Raises CellError."""
        self.ball = set_down(self._truth, item, region, self._count)
        self._count += 1

    def closed_on_nothing(self, arm: str) -> None:
        """Where the jaws of a hand have closed stays as it is while they stay closed."""
        self._jaws[arm] = self._truth.T_grip_jaw(arm)

    def meant_by(self, arm: str) -> bool:
        """Whether a guarded move of this hand is one onto the ball: with nothing in it, or a tool."""
        return self.ball is not None and (self._truth.hands[arm].holds is None or self._tool(arm) is not None)

    def guarded(self, arm: str, direction: Array, most: float) -> GuardedResult:
        """Until a finger, or the bit of the tool, really meets the ball, `most` [m] at most; the reading
        carries the noise of the touch."""
        truth, hand, tool = self._truth, self._truth.hands[arm], self._tool(arm)
        if self.ball is None:
            raise CellError("no artefact stands there; set one down")
        way = truth.T_base(arm)[:3, :3] @ direction
        T_world_grip = truth.T_world_grip(arm, stop=f"{hand.stop}/touch")
        if tool is None:
            found = fingers_meet(truth, arm, T_world_grip @ self._jaws.get(arm, np.eye(4)), way, self.ball)
        else:
            found = bit_meets(
                truth, tool, truth.T_world(tool.name, T_world_grip=T_world_grip), way, self.ball
            )
        noise = float(se3.log(truth.draws.deviation(f"touch.{arm}", hand.stop))[0])
        met = found is not None and found <= most
        return GuardedResult(met, found + noise if found is not None and met else most)

    def turned(self, arm: str, angle: float) -> Spindle:
        """The spindle of the tool in this hand has turned by itself [rad]. Raises CellError."""
        tool = self._tool(arm)
        if tool is None:
            raise CellError(f"the {arm} hand holds no tool; take up the driver first")
        self._truth.spun[tool.name] = self._truth.spun.get(tool.name, 0.0) + angle
        return tool.spindle

    def _tool(self, arm: str) -> Tool | None:
        holds = self._truth.hands[arm].holds
        return next((t for t in self._truth.project.cell.tools if t.name == holds), None)
