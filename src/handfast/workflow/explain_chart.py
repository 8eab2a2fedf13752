"""Why there is no plan, or how a mate came to be done: in sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING

from handfast.checking.checked_project import CheckedProject
from handfast.model.chart import Chart
from handfast.model.no_plan import NoPlan
from handfast.model.record import Record

if TYPE_CHECKING:
    from handfast.planning.alternatives import Alternatives


def why(checked: CheckedProject, record: Record[Chart] | Record[NoPlan], mate: str) -> str:
    """A few sentences about one mate. Raises KeyError with the names of the mates there are."""
    checked.project.product.mate(mate)
    if isinstance(record.body, NoPlan):
        return (
            _no(record.body)
            if record.body.mate == mate
            else f"{mate}: the search stopped before, at {record.body.mate}."
        )
    return _done(record.body, mate)


def _no(no: NoPlan) -> str:
    how = "infeasible at this resolution" if no.certain else "not found within the caps of the search"
    causes = "; ".join(f"{c.cause} ({c.count}){': ' + c.nearest if c.nearest else ''}" for c in no.causes)
    change = (
        f" A change that works, tried: {no.change}."
        if no.change
        else " No change that makes it work was found."
    )
    return f"{no.mate}: {how}. Candidates ended by: {causes}.{change}"


def others(checked: CheckedProject, chart: Record[Chart], mate: str) -> Alternatives:
    """What the search had to choose from when it came to a mate: routes that work, and why others do not.

    Raises KeyError with the names of the mates there are.
    """
    from handfast.planning.alternatives import alternatives

    return alternatives(checked.project, chart.body, mate)


def _done(chart: Chart, mate: str) -> str:
    own = [e for e in chart.elements if e.mate == mate]
    if not own:
        return f"{mate}: no element of this chart serves it."
    hands = " and ".join(h for h in chart.hands if any(e.hand == h for e in own))
    end = max(e.start_s + e.duration_s for e in own)
    when = f"{own[0].start_s:.2f} s to {end:.2f} s"
    parts = [f"{mate}: elements {own[0].number} to {own[-1].number}, by {hands}, {when}."]
    for e in own:
        if e.kind == "grasp" and e.target.startswith("hand."):
            parts.append(f"Element {e.number} takes {e.object} out of the {e.target[5:]} hand.")
        elif e.kind in ("hold", "delay") and e.cause:
            what = f"the {e.hand} hand holds {e.object} and " if e.object else f"the {e.hand} hand "
            parts.append(f"Element {e.number}, {e.duration_s:.2f} s: {what}{e.cause}.")
        elif e.touch is not None:
            parts.append(
                f"Element {e.number} touches {e.touch.part}.{e.touch.feature} to correct the estimate."
            )
    return " ".join(parts)
