"""What a run is expected to measure, element by element: the bands beside which the page sets readings."""

from __future__ import annotations

import math
from collections.abc import Iterator

from handfast.execution.handling import WIDTH_OFF
from handfast.execution.joining import EARLY, LATE, force_limit
from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.ledger import Ledger
from handfast.model.project import Project
from handfast.page.sheet import Window

_SIGMAS = 3.0


def windows(project: Project, chart: Chart, ledger: Ledger | None) -> tuple[Window, ...]:
    """The limits by which the executor judges (jaws, insertions, screws); of a touch three sigma of its
    reading about where contact is expected, where the ledger knows it, else how far the move goes."""
    return tuple(w for e in chart.elements for w in _of(project, chart, ledger, e))


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
