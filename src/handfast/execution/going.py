"""An element that a hand is at, beside one of the other hand."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from handfast.execution.turns import Turn
from handfast.model.element import Element
from handfast.model.motion import Motion
from handfast.motion.timing import at
from handfast.spatial.se3 import Array

MARGIN = 0.1  # hands may be apart from their charted instants by this [s]; the plan keeps it clear
_STEP = 2e-3  # how finely it is looked where on its way an arm is [s]
_JUST = 1e-6  # an element that is not over has not come to its end by this much [s]


@dataclass(slots=True)
class Going:
    """began: by the cell's clock [s]; made: its motions as they are made, moved by what was measured, with
    the time after its begin at which each is to begin [s]; charted: the same of its motions as the chart has
    them; corrected: whether any is another; on: the motion that is being made, along: how far of it was seen
    [s]; past: how much of the element as charted is over [s], since: when that was, by the cell's clock [s];
    waits: it stands where it began until the other hand is at rest; stalled: it has failed, and stands where
    that left it."""

    element: Element
    turn: Turn
    began: float
    made: list[tuple[float, Motion]] = field(default_factory=list)
    charted: list[tuple[float, Motion]] = field(default_factory=list)
    corrected: bool = False
    on: Motion | None = None
    along: float = 0.0
    past: float = 0.0
    since: float = 0.0
    stalled: bool = False
    waits: bool = False

    def due(self, motion: Motion) -> float:
        """When a motion is to begin, by the cell's clock [s]; at once if the chart does not say."""
        after = next((after for after, m in self.made if m is motion), 0.0)
        return self.began + after

    def reached(self, clock: float, q: Array | None) -> float:
        """Which instant of the chart it has come to [s]; never its end, for it is not over. q: where the arm
        is (n,) [rad]: a motion has come as far as it is seen to, however long it takes."""
        e = self.element
        if self.on is not None and q is not None:
            self.along = _along(self.on, q, self.along)
            after, planned = self._planned(self.on)
            gone = after + self.along / max(self.on.duration, _JUST) * planned.duration
        else:
            coming = [after for after, _ in self.charted if after > self.past - _JUST]
            gone = min([self.past + clock - self.since, *coming[:1]])
        return e.start_s + min(gone, max(e.duration_s - _JUST, 0.0))

    def sets_off(self, motion: Motion) -> None:
        """A motion begins."""
        self.on, self.along = motion, 0.0

    def arrives(self, clock: float) -> None:
        """What it had asked for is over."""
        if self.on is not None:
            after, planned = self._planned(self.on)
            self.past = after + planned.duration
            self.on = None
        self.since = clock

    def slower(self) -> float:
        """How much longer what is left of its motions takes than the chart has it [s]: what is moved by a
        measurement is timed anew."""
        left = 0.0
        for (_, motion), (after, planned) in zip(self.made, self.charted, strict=True):
            if after + planned.duration > self.past + _JUST:
                share = 1 - self.along / max(motion.duration, _JUST) if motion is self.on else 1.0
                left += share * (motion.duration - planned.duration)
        return left

    def _planned(self, motion: Motion) -> tuple[float, Motion]:
        """The motion as the chart has it, and how long after its begin."""
        pairs = zip(self.made, self.charted, strict=True)
        return next((planned for (_, m), planned in pairs if m is motion), (self.past, motion))

    def put_off(self, seconds: float) -> None:
        """It has waited so long where it began, as if it began later."""
        self.began += seconds
        self.since += seconds

    def take(self, motions: tuple[Motion, ...]) -> None:
        """Its motions as they are to be made."""
        e = self.element
        self.corrected = any(m is not p for m, p in zip(motions, e.motions, strict=True))
        self.made = _one_after_another(e, motions)
        self.charted = _one_after_another(e, e.motions)


def _one_after_another(e: Element, motions: tuple[Motion, ...]) -> list[tuple[float, Motion]]:
    after, out = begins_moving(e), []
    for motion in motions:
        out.append((after, motion))
        after += motion.duration
    return out


def begins_moving(e: Element) -> float:
    """How long after an element's begin its first motion begins [s]."""
    if e.kind == "grasp":
        return 0.0
    if e.kind == "release":
        return max(0.0, e.duration_s - sum(m.duration for m in e.motions))
    return max(0.0, e.before_s)


def _along(motion: Motion, q: Array, least: float) -> float:
    """How far along a motion an arm at q (n,) has come [s], no less than it had before."""
    times = np.linspace(least, motion.duration, max(2, int((motion.duration - least) / _STEP)))
    off = np.abs(at(motion, times) - q).max(axis=1)
    return float(times[int(np.argmin(off))])
