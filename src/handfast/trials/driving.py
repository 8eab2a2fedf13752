"""Screws in a simulated cell: turned by the tool in a hand, as this build's threads and sockets have it."""

from __future__ import annotations

import numpy as np

from handfast.execution.cell import CellError, DriveResult, Until
from handfast.model.mate import Mate
from handfast.model.strategy import BackTurn, Strategy
from handfast.model.tool import Spindle
from handfast.model.trial import MateTry, Outcome
from handfast.standards.threads import coarse_thread
from handfast.trials.giving import Pull
from handfast.trials.tries import failed
from handfast.trials.true_cell import TrueCell
from handfast.trials.true_screw import driven, expected_angle, screw_start, under_bit
from handfast.trials.true_tightening import tightened

_TURNS_ON = 2 * np.pi * 1.05  # of a stripped screw beyond its turns, when it is given up [rad]


class Driving:
    """All screws of one build. tries: of the cell, added to here."""

    def __init__(self, truth: TrueCell, tries: list[MateTry]) -> None:
        self._truth, self._tries = truth, tries
        self._turned: dict[str, float] = {}  # of each screw, since its point met the thread [rad]

    def screw_in(self, arm: str) -> tuple[str, Mate, Spindle]:
        """The tool in a hand, the screw on its bit or in its thread under it, and what turns it. Raises
        CellError."""
        cell = self._truth.project.cell
        tool = self._truth.hands[arm].holds
        if tool is None or tool not in [t.name for t in cell.tools]:
            raise CellError(f"the {arm} hand holds no tool; take up the driver first")
        spindle = cell.tool(tool).spindle
        for mate in self._truth.project.product.mates:
            if mate.kind == "screw" and self._truth.items[mate.part].parent == f"tool.{tool}":
                return tool, mate, spindle
        found = under_bit(self._truth, tool)
        if found is None:
            raise CellError(
                f"no screw is on the bit in the {arm} hand, nor is one's socket under it; take one up first"
            )
        return tool, found, spindle

    def angle(self, mate: Mate, turns: float, until: Until) -> float:
        """How far the screw is to be turned [rad]."""
        left = self._left(mate)
        return min(left, turns) if until == "turns" else left

    def drive(
        self, arm: str, tool: str, mate: Mate, torque: float, turns: float, strategy: Strategy | None,
        until: Until,
    ) -> DriveResult:  # fmt: skip
        """As the cell's `drive`, the hand standing at the end of its motion. A rule of geometry says whether
        the screw starts (true_screw); the torque rises where the head comes to rest, nowhere before."""
        spindle = self._truth.project.cell.tool(tool).spindle
        left, angle = self._left(mate), self.angle(mate, turns, until)
        begun = self._turned.get(mate.name, 0.0) > 0.0
        cause = self._engage(tool, mate) if begun else self._start(arm, tool, mate, strategy)
        if not cause and torque > spindle.torque:
            cause = f"the driver gives {spindle.torque:.2g} N m at most"
        if cause:
            failed(self._tries, mate, cause)
            return DriveResult(False, cause, min(torque, spindle.torque), 0.0)
        if until == "torque" and angle == left:
            return self._tightened(mate, torque, left)
        self._go_to(mate, angle, left - angle)
        return DriveResult(True, "", torque if angle == left else 0.0, angle)

    def _tightened(self, mate: Mate, torque: float, left: float) -> DriveResult:
        """To the torque, over the angle that is left [rad]."""
        pitch = self._pitch(mate)
        ended = tightened(self._truth, mate, torque)
        if ended.ends == "stripped":  # it turns on, and no torque comes
            failed(self._tries, mate, "the thread has stripped")
            return DriveResult(True, "", 0.0, left + _TURNS_ON)
        short = 0.0
        if ended.ends == "bottomed":
            failed(self._tries, mate, f"the screw met the end of its hole {ended.gap * 1e3:.2f} mm early")
            short = ended.gap / pitch * 2 * np.pi
        angle = max(0.0, left - short)
        self._go_to(mate, angle, short)
        return DriveResult(True, "", torque, angle)

    def _go_to(self, mate: Mate, angle: float, short: float) -> None:
        """The screw is turned by an angle and then stands `short` before home [rad]."""
        self._turned[mate.name] = self._turned.get(mate.name, 0.0) + angle
        driven(self._truth, mate, short / (2 * np.pi) * self._pitch(mate))

    def _left(self, mate: Mate) -> float:
        product = self._truth.project.product
        thread = coarse_thread(product.part(mate.part).feature(mate.pairs[0].moving).thread or "")
        return max(0.0, expected_angle(mate, thread) - self._turned.get(mate.name, 0.0))

    def _pitch(self, mate: Mate) -> float:
        moving = self._truth.project.product.part(mate.part).feature(mate.pairs[0].moving)
        return coarse_thread(moving.thread or "").pitch

    def _start(self, arm: str, tool: str, mate: Mate, strategy: Strategy | None) -> str:
        """Why the screw on the bit does not start, "" if it does."""
        if self._truth.items[mate.part].parent != f"tool.{tool}":
            return "the screw is no longer on the bit"
        push = None
        if isinstance(strategy, BackTurn):
            T_world_bit = self._truth.T_world_bit(tool)
            push = Pull(-strategy.force * T_world_bit[:3, 2], T_world_bit[:3, 3])
        start = screw_start(self._truth, mate, self._truth.T_world_grip(arm, push=push))
        outcome: Outcome = "failed" if start.cause else "ok"
        self._tries.append(MateTry(mate.name, outcome, start.cause, start.offset, start.tilt, 0.0, 0.0))
        return start.cause

    def _engage(self, tool: str, mate: Mate) -> str:
        return "" if under_bit(self._truth, tool) is mate else f"the bit missed the socket of {mate.part}"
