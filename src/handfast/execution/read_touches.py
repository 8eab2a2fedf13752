"""Readings of touches out of the log of an earlier part of a run."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from handfast.execution.estimates import Touched
from handfast.execution.rehearsal import ready_at
from handfast.execution.run_state import RunState
from handfast.execution.touching import corners
from handfast.model.run_log import LogLine


def read_touches(run: RunState, lines: tuple[LogLine, ...], before: int) -> tuple[Touched, ...]:
    """The last reading of each touch among the elements before number `before`, if it met something."""
    told: dict[str, Any] = {}
    for line in lines:
        if line.event == "contact" and line.value("met") == 1.0:
            told[line.element] = line.value("travel")
    out = []
    for element in run.chart.elements:
        touch, guarded = element.touch, element.guarded
        if element.number >= before or element.id not in told or touch is None or guarded is None:
            continue
        ready = ready_at(run.project, run.chart, element.number)
        there = {hand: np.array(q) for hand, q in ready.q.items()}
        then = replace(run, scene=ready.scene, planned=there)
        surprise = told[element.id] - touch.travel
        travel = corners(then, element, touch, element.motions[guarded])
        out.append(Touched(element.id, surprise, travel, element.mate))
    return tuple(out)
