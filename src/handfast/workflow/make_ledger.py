"""Chart and error sources -> fit ledger."""

from __future__ import annotations

from handfast.checking.checked_project import CheckedProject
from handfast.files.record_json import make_record, sha256
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger, MateRow
from handfast.model.record import Record
from handfast.workflow.inputs import inputs_of

# Sources with a smaller share of the variance whose estimated gain is smaller, too, keep the estimate.
_SHARE, _GAIN = 5e-3, 1e-4


def gains_anew(checked: CheckedProject, chart: Record[Chart], row: MateRow) -> MateRow:
    """The row of a mate with what half a source gains worked out anew, of all sources that may matter: a walk
    through the chart for each.
    """
    from handfast.uncertainty.anew import gained_anew
    from handfast.uncertainty.hand_poses import hand_poses
    from handfast.uncertainty.jaws import Given
    from handfast.uncertainty.sources import sources_of

    project = checked.project
    given = Given(project, chart.body, sources_of(project), hand_poses(project, chart.body))
    names = [c.source for c in row.contributors if c.share > _SHARE or c.gained_if_halved > _GAIN]
    return gained_anew(given, row, names)


def budget(checked: CheckedProject, chart: Record[Chart]) -> Record[Ledger]:
    """The error budget of every mate of the chart. Raises BudgetError if sources or chart cannot be used."""
    from handfast.uncertainty.budget import budget as add_up

    found = add_up(checked.project, chart.body, sha256(chart))
    return make_record(found, inputs_of(checked.project, chart), chart.seed)
