"""The chart as moves, jaw strokes and events in time.

Where the parts of an element lie: its motions run one after another from its start, or from before_s after
it; the jaws of a `grasp` close after its motions, until its end; a `release` lets go and opens at its start,
its motions fill its end. A jaw width that another element asks for is taken at its start. What an `assemble`
or `use` brings about holds from its end.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Literal

import numpy as np

from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.motion import Motion
from handfast.model.project import Project
from handfast.model.proof import Violation
from handfast.proof.joint_path import JointPath, joint_path
from handfast.proof.motion_checks import line_of
from handfast.proof.stl import Array
from handfast.proof.tolerances import TIME

EventKind = Literal["begin", "stroke", "closed", "let go", "done"]
RANK: dict[EventKind, int] = {"closed": 0, "done": 1, "begin": 2, "let go": 3, "stroke": 4}
"""At one instant: first what ends, then what begins."""


@dataclass(frozen=True)
class Move:
    """A motion in the chart's time, start to end [s]."""

    element: Element
    motion: Motion
    start: float
    end: float

    @cached_property
    def path(self) -> JointPath:
        """The motion as arrays; not of one that is `broken`."""
        return joint_path(self.motion)


@dataclass(frozen=True)
class Stroke:
    """The jaws of a hand go to a width [m], from start to end [s]; start = end: at once."""

    element: Element
    width: float
    start: float
    end: float


@dataclass(frozen=True)
class Event:
    """Something that happens at an instant [s]."""

    kind: EventKind
    element: Element
    time: float
    stroke: Stroke | None = None


@dataclass(frozen=True)
class Timeline:
    """What moves when, and what happens when, events in order."""

    moves: tuple[Move, ...]
    strokes: tuple[Stroke, ...]
    events: tuple[Event, ...]

    @cached_property
    def _spans(self) -> Array:
        """Start and end of each move (m, 2)."""
        return np.array([(move.start, move.end) for move in self.moves]).reshape(-1, 2)

    @cached_property
    def _times(self) -> list[float]:
        return [event.time for event in self.events]

    def moving(self, now: float) -> tuple[Move, ...]:
        """The moves that go on at a time [s], or begin then."""
        start, end = self._spans.T
        return tuple(self.moves[i] for i in np.flatnonzero((start <= now + TIME) & (end > now + TIME)))

    def at(self, now: float) -> tuple[Event, ...]:
        """The events within TIME of a time [s]."""
        return self.events[bisect_left(self._times, now - TIME) : bisect_right(self._times, now + TIME)]

    def instants(self) -> list[float]:
        """Every time at which something starts, ends or happens, rising; those within TIME of each other are
        one."""
        moves = [t for move in self.moves for t in (move.start, move.end)]
        strokes = [t for stroke in self.strokes for t in (stroke.start, stroke.end)]
        times = sorted([*moves, *strokes, *(event.time for event in self.events)])
        out: list[float] = []
        for time in times:
            if not out or time - out[-1] > TIME:
                out.append(time)
        return out


def lay_out(chart: Chart) -> Timeline:
    """The timeline of a chart, whatever is wrong with it."""
    moves, strokes, events = [], [], []
    for element in chart.elements:
        own = _moves(element)
        moves += own
        end = element.start_s + element.duration_s
        events.append(Event("begin", element, element.start_s))
        if element.kind == "grasp":
            width = element.grasp.width if element.grasp else 0.0
            closing = own[-1].end if own else element.start_s
            strokes.append(Stroke(element, width, closing, max(end, closing)))
            events.append(Event("closed", element, max(end, closing)))
        elif element.kind == "release":
            opened = max(own[0].start if own else end, element.start_s)
            events.append(Event("let go", element, element.start_s))
            if element.opening is not None:
                strokes.append(Stroke(element, element.opening, element.start_s, opened))
        elif element.kind in ("assemble", "use"):
            events.append(Event("done", element, end))
        if element.opening is not None and element.kind != "release":
            at_once = Stroke(element, element.opening, element.start_s, element.start_s)
            events.append(Event("stroke", element, element.start_s, at_once))
    events.sort(key=lambda e: (e.time, RANK[e.kind], e.element.number))
    return Timeline(tuple(moves), tuple(strokes), tuple(events))


def _moves(element: Element) -> list[Move]:
    lengths = [motion.duration if motion.t else 0.0 for motion in element.motions]
    time = element.start_s
    if element.kind == "release":
        time += max(element.duration_s - sum(lengths), 0.0)
    elif element.kind != "grasp":
        time += max(element.before_s, 0.0)
    out = []
    for motion, length in zip(element.motions, lengths, strict=True):
        out.append(Move(element, motion, time, time + length))
        time += length
    return out


def check_times(project: Project, chart: Chart) -> list[Violation]:
    """Durations that are too short, elements of one hand that overlap, elements that are out of order."""
    found = [v for element in chart.elements for v in _too_short(project, element)]
    for hand in chart.hands:
        own = [element for element in chart.elements if element.hand == hand]
        for before, after in pairwise(own):
            overlap = before.start_s + before.duration_s - after.start_s
            if overlap > TIME:
                text = f"{line_of(after)} starts {overlap:.4f} s before its hand has ended {line_of(before)}"
                found.append(Violation("time", after.number, after.start_s, overlap, hand, "", text))
    numbers = [element.number for element in chart.elements]
    if numbers != list(range(1, len(numbers) + 1)):
        text = f"the elements are numbered {numbers[:8]}...; 1 to {len(numbers)} in that order is wanted"
        found.append(Violation("order", 0, 0.0, 0.0, "", "", text))
    last = max((element.start_s + element.duration_s for element in chart.elements), default=0.0)
    if last > chart.makespan_s + TIME:
        text = f"the last element ends at {last:.3f} s, the chart says it takes {chart.makespan_s:.3f} s"
        found.append(Violation("time", len(numbers), last, last - chart.makespan_s, "", "", text))
    return found


def _too_short(project: Project, element: Element) -> list[Violation]:
    needed = sum(motion.duration for motion in element.motions if motion.t)
    what = "its motions take"
    if element.kind not in ("grasp", "release"):
        needed += max(element.before_s, 0.0)
    if element.kind in ("grasp", "release"):
        strokes = [g.close_time for g in project.cell.grippers if g.arm == element.hand]
        needed += strokes[0] if strokes else 0.0
        what = "its motions and the stroke of the jaws take"
    if element.duration_s + TIME >= needed and element.start_s >= -TIME:
        return []
    lasts = f"lasts {element.duration_s:.4f} s from {element.start_s:.4f} s"
    text = f"{line_of(element)} {lasts}; {what} {needed:.4f} s"
    short = max(needed - element.duration_s, -element.start_s)
    return [Violation("time", element.number, element.start_s, short, element.hand, element.object, text)]
