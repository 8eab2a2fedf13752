"""From a checked project to a two-hand chart, or a reason why not."""

from __future__ import annotations

from handfast.checking.checked_project import CheckedProject
from handfast.model.chart import Chart
from handfast.model.no_plan import NoPlan
from handfast.planning.leg import Leg
from handfast.planning.lower_bound import lower_bound
from handfast.planning.schedule import one_at_a_time
from handfast.planning.search import Progress, go_home, search
from handfast.planning.workspace import Workspace, make_workspace


def plan(checked: CheckedProject, *, seed: int = 0, progress: Progress | None = None) -> Chart | NoPlan:
    """Plan every mate of a project, one hand moving at a time.

    seed: of every random draw; equal projects and seeds give equal charts. progress(mate, done, of) is called before each.
    """
    ws = make_workspace(checked)
    found = search(ws, seed=seed, progress=progress)
    if isinstance(found, NoPlan):
        return found
    return _chart(ws, go_home(ws, found.leg, list(ws.hands), "", seed))


def _chart(ws: Workspace, leg: Leg) -> Chart:
    hands = tuple(sorted(ws.hands, key=lambda h: float(ws.hands[h].chain.base[0, 3])))
    elements = one_at_a_time(leg.elements, hands)
    mates = ws.project.product.mates
    first = {m.name: next(e.number for e in elements if e.mate == m.name) for m in mates}
    return Chart(
        project=ws.project.name,
        hands=hands,
        start=ws.start().scene,
        elements=elements,
        mates=tuple(sorted(first, key=lambda name: first[name])),
        makespan_s=max(e.start_s + e.duration_s for e in elements),
        lower_bound_s=lower_bound(ws, elements, mates),
    )
