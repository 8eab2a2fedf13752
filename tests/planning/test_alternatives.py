"""Why a mate is done as it is: the grasps of the chart, each with its place among those there are."""

from __future__ import annotations

from handfast.checking.checked_project import CheckedProject
from handfast.mates.grasps import grasps
from handfast.model.chart import Chart
from handfast.planning.alternatives import alternatives


def test_the_grasps_of_the_chart_are_told_with_their_place(first_fit: CheckedProject, chart: Chart) -> None:
    project = first_fit.project
    told = alternatives(project, chart, "pin-in-bore")
    own = [e for e in chart.elements if e.mate == "pin-in-bore" and e.grasp is not None]
    assert [(h.hand, h.item) for h in told.held] == [(e.hand, "pin") for e in own]
    assert len(own) == 2  # taken by one hand, passed to the other
    pin = project.product.part("pin")
    for held, e in zip(told.held, own, strict=True):
        every = grasps(project.cell.gripper_of(e.hand), "pin", pin.features, pin.mass, pin.friction)
        assert every[held.rank - 1] == e.grasp
        assert held.of == len(every)
    assert sum(r.chosen for r in told.routes) == 1
