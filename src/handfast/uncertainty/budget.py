"""The fit ledger of a chart."""

from __future__ import annotations

from handfast.model.chart import Chart
from handfast.model.ledger import Band, Ledger, MateRow, TouchUpdate
from handfast.model.project import Project
from handfast.uncertainty.condition import all_hold
from handfast.uncertainty.hand_poses import HandPoses, hand_poses
from handfast.uncertainty.jaws import Given
from handfast.uncertainty.mate_row import mate_row
from handfast.uncertainty.refusal import BudgetError, ChainError, SourceError
from handfast.uncertainty.sources import sources_of
from handfast.uncertainty.walk import walk


def budget(project: Project, chart: Chart, chart_sha256: str, poses: HandPoses | None = None) -> Ledger:
    """Error chains derived from the chart, one row for each mate; the same inputs give the same ledger.

    poses: T_world_grip where each element's motions end (of a touch: where contact is expected); None: by
    forward kinematics from the motions. Raises SourceError for an error source that cannot be used,
    ChainError for a chart from which no chain can be derived. A mate without a budget is listed with the
    reason and counts as not shown.
    """
    sources = sources_of(project)
    given = Given(project, chart, sources, hand_poses(project, chart) if poses is None else poses)
    entries = walk(given)
    untouched = walk(Given(project, chart, sources, given.poses, touches=False))
    rows: list[MateRow] = []
    missing: list[tuple[str, str]] = []
    updates: list[TouchUpdate] = []
    for entry, bare in zip(entries, untouched, strict=True):
        updates.extend(entry.updates)
        try:
            rows.append(mate_row(project, sources, entry, bare))
        except (SourceError, ChainError):
            raise
        except BudgetError as reason:
            missing.append((entry.mate.name, str(reason)))
    done = {entry.mate.name for entry in entries}
    missing += [(name, "the chart never does it") for name in chart.mates if name not in done]
    unknown = [Band(0.0, 1.0, True)] * len(missing)
    return Ledger(
        chart_sha256=chart_sha256,
        rows=tuple(rows),
        build_yield=all_hold([*(row.probability for row in rows), *unknown]),
        build_yield_untouched=all_hold([*(row.probability_untouched for row in rows), *unknown]),
        updates=tuple(updates),
        not_budgeted=tuple(missing),
    )
