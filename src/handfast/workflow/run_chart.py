"""Chart and ledger -> run log: the chart stepped through a cell."""

from __future__ import annotations

from handfast.checking.checked_project import CheckedProject
from handfast.execution.cell import Cell
from handfast.files.record_json import make_record, sha256
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.model.record import Record
from handfast.model.run_log import RunLog
from handfast.workflow.inputs import inputs_of
from handfast.workflow.make_trial import must_fit


def run(checked: CheckedProject, chart: Record[Chart], ledger: Record[Ledger], cell: Cell) -> Record[RunLog]:
    """Run the chart once in that cell and log what happens.

    A cell that is a real machine moves: risk assessment by a competent person, ISO 10218 and local rules,
    reduced speed for first runs, guarded space, a working emergency stop. Raises MismatchError if the
    ledger is of another chart.
    """
    from handfast.execution.executor import execute

    must_fit(chart, ledger)
    log = execute(checked.project, chart.body, ledger.body, cell, chart_sha256=sha256(chart))
    return make_record(log, inputs_of(checked.project, chart, ledger), chart.seed)


def simulated_cell(checked: CheckedProject, chart: Record[Chart], *, seed: int = 0, number: int = 0) -> Cell:
    """A cell whose errors are drawn from the project's sources: the same as build `number` of a trial."""
    from handfast.kinematics.chain import load_chain
    from handfast.trials.draw import Draws
    from handfast.trials.simulated_cell import SimulatedCell

    project = checked.project
    chains = {arm.name: load_chain(arm, project.folder) for arm in project.cell.arms}
    grasps = tuple(dict.fromkeys(e.grasp for e in chart.body.elements if e.grasp is not None))
    return SimulatedCell(project, chains, Draws(project.errors, seed, number), grasps)
