"""The cell as an element sees it whose hand works beside another."""

from __future__ import annotations

from typing import Any

from handfast.execution.cell_calls import CellCalls
from handfast.execution.going import Going
from handfast.execution.turns import Asked
from handfast.execution.two_hands import TAKES_TIME, TwoHandCell
from handfast.model.motion import Motion

ALONE, IN_STEP = "alone", "in step"
_EARLY = 1e-6  # a motion that would begin earlier than this waits for its time [s]


class HandCell(CellCalls):
    """Implements `execution.cell.Cell`: what takes time is begun, and other hands go on meanwhile. Motions
    begin no sooner in their element than the chart has it. going: the elements on their way, by hand; now:
    the hand that is asking, None where one hand works alone."""

    def __init__(self, cell: TwoHandCell, going: dict[str, Going]) -> None:
        self._cell, self._going = cell, going
        self.now: str | None = None

    @property
    def name(self) -> str:
        """As in the protocol."""
        return self._cell.name

    def alone(self) -> None:
        """Until the other hand has ended what it is at; it begins nothing more until this element is over."""
        if self.now is not None:
            self._asked(ALONE, {})

    def in_step(self) -> None:
        """Of an element whose motions take longer than the chart has them: until that brings nobody out of
        step."""
        if self.now is not None:
            self._asked(IN_STEP, {})

    def jaws(self, arm: str, width: float) -> None:
        """Empty jaws begin to go to a width [m], while the arm goes on."""
        self._cell.jaws(arm, width)

    def _call(self, name: str, given: dict[str, Any]) -> Any:
        if self.now is None or name not in TAKES_TIME:
            return getattr(self._cell, name)(**given)
        if "motion" in given:
            self._in_time(given["motion"])
        return self._asked(name, given)

    def _asked(self, name: str, given: dict[str, Any]) -> Any:
        """What the element stands still for until it is answered."""
        if self.now is None:
            raise RuntimeError(f"{name!r}: expected a hand that asks, found none")
        return self._going[self.now].turn.ask(Asked(name, given))

    def _in_time(self, motion: Motion) -> None:
        """Wait until the chart has this motion begin."""
        if self.now is None:
            return
        early = self._going[self.now].due(motion) - self._cell.clock()
        if early > _EARLY:
            self._asked("pause", {"seconds": early})
