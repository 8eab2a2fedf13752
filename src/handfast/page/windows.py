"""What a run is expected to measure, element by element: the bands beside which the page sets readings."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from handfast.execution.joining import EARLY, LATE, force_limit
from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.jaw_limits import WIDTH_OFF
from handfast.model.ledger import Ledger
from handfast.model.project import Project
from handfast.model.trial import TrialReport
from handfast.page.sheet import Window

_SIGMAS = 3.0
_ENOUGH = 20  # builds, before a range of them says anything; own choice, no source


def windows(
    project: Project, chart: Chart, ledger: Ledger | None, trials: tuple[TrialReport, ...] = ()
) -> tuple[Window, ...]:
    """The limits by which the executor judges (jaws, insertions, screws); of a touch three sigma of its
    reading about where contact is expected, where the ledger knows it, else how far the move goes. trials:
    tell what force is usual."""
    found = (w for e in chart.elements for w in _of(project, chart, ledger, e))
    mates = {e.id: e.mate for e in chart.elements}
    return tuple(
        replace(w, usual=usual_force(mates[w.element], trials)) if w.event == "insertion" else w
        for w in found
    )


def usual_force(mate: str, trials: tuple[TrialReport, ...]) -> tuple[float, float] | None:
    """Between which peak forces 95 % of the simulated builds lie in which it went in [N]; of the trial with
    touches and errors as they are. None: too few."""
    peaks = [
        t.peak_force for trial in trials if trial.with_touches and trial.scale == 1.0
        for build in trial.builds for t in build.tries if t.mate == mate and t.outcome == "ok"
    ]  # fmt: skip
    if len(peaks) < _ENOUGH:
        return None
    low, high = np.quantile(peaks, [0.025, 0.975])
    return float(low), float(high)


def _of(project: Project, chart: Chart, ledger: Ledger | None, e: Element) -> Iterator[Window]:
    if e.kind == "grasp" and e.grasp is not None:
        width = e.grasp.width
        yield Window(e.id, "width", "measured", width - WIDTH_OFF, width + WIDTH_OFF, "m")
    elif e.kind == "locate" and e.touch is not None:
        sigmas = [u.sigma_reading for u in ledger.updates if u.element == e.id] if ledger else []
        beyond = _SIGMAS * max(sigmas) if sigmas else e.touch.overtravel
        low = max(0.0, e.touch.travel - beyond) if sigmas else 0.0
        yield Window(e.id, "contact", "travel", low, e.touch.travel + beyond, "m")
    elif e.kind == "assemble" and any(m.name == e.mate for m in project.product.mates):
        limit = force_limit(chart, project.product.mate(e.mate), e.hand)
        yield Window(e.id, "insertion", "peak_force", 0.0, limit, "N")
    elif e.kind == "use" and e.turns is not None:
        turn = 2 * math.pi
        yield Window(e.id, "screw", "angle", max(0.0, e.turns - EARLY * turn), e.turns + LATE * turn, "rad")
