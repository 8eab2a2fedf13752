"""A simulated cell in which everything is put where a chart has it before one of its elements."""

from __future__ import annotations

import numpy as np

from handfast.checking.checked_project import CheckedProject
from handfast.execution.cell import Cell
from handfast.execution.rehearsal import in_order, ready_at
from handfast.model.chart import Chart
from handfast.model.record import Record
from handfast.trials.simulated_cell import SimulatedCell
from handfast.workflow.resume_run import Stood
from handfast.workflow.run_chart import simulated_cell


def simulated_middle(
    checked: CheckedProject, chart: Record[Chart], number: int, stood: Stood | None, seed: int
) -> Cell:
    """As a person would have put everything by hand before element `number`: items as drawn, arms where they
    stood, or at home."""
    cell = simulated_cell(checked, chart, seed=seed)
    if not isinstance(cell, SimulatedCell):
        raise TypeError("expected the simulated cell")
    ready = ready_at(checked.project, chart.body, number)
    grasps = {
        (e.hand, e.object): e.grasp for e in in_order(chart.body) if e.number < number and e.grasp is not None
    }
    for arm in checked.project.cell.arms:
        hand = cell.truth.hands[arm.name]
        cell.truth.stand(arm.name, np.array(arm.home if stood is None else stood.q[arm.name]))
        hand.width = ready.widths[arm.name]
        if (item := ready.holding.get(arm.name)) is not None:
            hand.holds, hand.grasp = item, grasps[arm.name, item]
            hand.force = checked.project.cell.gripper_of(arm.name).force
    for there in ready.scene.attachments:
        if not there.parent.startswith("place."):
            cell.truth.attach(there.item, there.parent, there.pose.matrix)
    return cell
