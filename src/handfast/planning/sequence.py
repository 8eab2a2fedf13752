"""The sequence that a chart carries out, read off who grasps what where."""

from __future__ import annotations

from handfast.model.chart import Chart
from handfast.planning.route import Route
from handfast.planning.unit import Unit


def sequence_of(chart: Chart, units: tuple[Unit, ...]) -> tuple[tuple[str, Route], ...] | None:
    """Units in the order in which the chart ends them, each with its route; None if it does not do them
    all."""
    place = {name: i for i, name in enumerate(chart.mates)}
    if any(m.name not in place for u in units for m in u.mates):
        return None
    order = sorted(units, key=lambda u: max(place[m.name] for m in u.mates))
    return tuple((u.name, chosen(chart, u)) for u in order)


def chosen(chart: Chart, unit: Unit) -> Route:
    """The route by which a chart does a unit. Raises ValueError for a unit that it does not do."""
    own = [e for e in chart.elements if e.mate in {m.name for m in unit.mates}]
    uses = [e.hand for e in own if e.kind == "use"]
    grasps = [e for e in own if e.kind == "grasp" and e.object == unit.parts[0]]
    if not (uses if unit.tool is not None else grasps):
        raise ValueError(f"expected a chart that does {unit.name}, found one without an element of it")
    if unit.tool is not None:
        return Route("tool", (uses[0],))
    if len(grasps) == 1:
        return Route("direct", (grasps[0].hand,))
    passed = grasps[1].target.startswith("hand.")
    return Route("handover" if passed else "set-down", (grasps[0].hand, grasps[-1].hand))
