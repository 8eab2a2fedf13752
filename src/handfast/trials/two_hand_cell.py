"""The simulated cell with both arms at work at the same time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from handfast.execution.cell import ArmState, CellError, ObstructedError
from handfast.execution.two_hands import TAKES_TIME, Ended
from handfast.model.motion import Motion
from handfast.motion.timing import at
from handfast.trials.simulated_cell import SimulatedCell


@dataclass(frozen=True, slots=True)
class _Busy:
    """motion: where the arm is meanwhile; stops: whether it can be halted on it."""

    began: float
    ends: float
    motion: Motion | None
    stops: bool
    ended: Ended


class TwoHandSimulatedCell(SimulatedCell):
    """Implements `execution.two_hands.TwoHandCell`.

    What is begun happens at once in the true state, and is told when its time has passed: elements that work
    on the same thing never overlap in a chart, so nobody can tell the difference, but for where an arm is on
    its way. Asked as one arm at a time, it is the same as the cell that it extends.
    """

    two_hands = True
    _busy: dict[str, _Busy]

    def lasts(self, arm: str, name: str, seconds: float) -> float:
        """How long something takes that should take so long [s]. Arms keep time here."""
        return seconds

    def begin(self, arm: str, name: str, given: Mapping[str, Any]) -> None:
        """As in the protocol. Raises CellError for what cannot be begun."""
        busy = self._all_busy()
        if name not in TAKES_TIME:
            raise CellError(f"begin: expected one of {', '.join(TAKES_TIME)}, found {name!r}")
        if arm in busy:
            raise CellError(f"the {arm} arm is at something; wait until that is over")
        now = self._time
        try:
            ended = Ended(arm, getattr(self, name)(**given))
        except ObstructedError as error:
            ended = Ended(arm, error=str(error), kind="obstructed")
        except CellError as error:
            ended = Ended(arm, error=str(error), kind="cell")
        took, self._time = self._time - now, now
        motion = None if ended.error else given.get("motion")
        busy[arm] = _Busy(now, now + self.lasts(arm, name, took), motion, name == "move", ended)

    def wait(self, seconds: float) -> tuple[Ended, ...]:
        """As in the protocol."""
        busy = self._all_busy()
        self._time = min([self._time + max(seconds, 0.0), *(b.ends for b in busy.values())])
        over = [arm for arm, b in busy.items() if b.ends <= self._time + 1e-12]
        return tuple(busy.pop(arm).ended for arm in over)

    def jaws(self, arm: str, width: float) -> None:
        """As in the protocol."""
        if self.truth.hands[arm].holds is not None:
            raise CellError(f"jaws: the {arm} hand holds {self.truth.hands[arm].holds}; release it")
        self.truth.hands[arm].width = width

    def halt(self) -> None:
        """As in the protocol: an arm on its way stands where it is; jaws and contact come to their end."""
        busy = self._all_busy()
        for arm, b in busy.items():
            if b.motion is not None and b.stops:
                self.truth.stand(arm, self._on_the_way(b))
            ended = Ended(arm, error=f"the {arm} arm was halted", kind="halted")
            busy[arm] = _Busy(b.began, self._time, None, False, ended)

    def state(self, arm: str) -> ArmState:
        """Where the arm stands, or is on its way."""
        found, b = super().state(arm), self._all_busy().get(arm)
        if b is None or b.motion is None:
            return found
        return ArmState(tuple(self._on_the_way(b).tolist()), found.width)

    def _on_the_way(self, b: _Busy) -> np.ndarray[Any, np.dtype[np.float64]]:
        motion = b.motion
        if motion is None or b.ends <= b.began:
            raise ValueError("only what moves is on its way")
        share = (self._time - b.began) / (b.ends - b.began)
        return np.asarray(at(motion, share * motion.duration)[0])

    def _all_busy(self) -> dict[str, _Busy]:
        if "_busy" not in self.__dict__:
            self._busy = {}
        return self._busy
