"""Chart and error sources -> fit ledger."""

from __future__ import annotations

from handfast.checking.checked_project import CheckedProject
from handfast.files.record_json import make_record, sha256
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.model.record import Record
from handfast.workflow.inputs import inputs_of


def budget(checked: CheckedProject, chart: Record[Chart]) -> Record[Ledger]:
    """The error budget of every mate of the chart. Raises BudgetError if sources or chart cannot be used."""
    from handfast.uncertainty.budget import budget as add_up

    found = add_up(checked.project, chart.body, sha256(chart))
    return make_record(found, inputs_of(checked.project, chart), chart.seed)
