"""The fit ledger of a chart."""

from __future__ import annotations

from dataclasses import replace

from handfast.model.chart import Chart
from handfast.model.ledger import Band, Ledger, MateRow, TouchUpdate
from handfast.model.project import Project
from handfast.uncertainty.condition import all_hold
from handfast.uncertainty.hand_poses import HandPoses, hand_poses
from handfast.uncertainty.jaws import Given
from handfast.uncertainty.joint_builds import enclosed, joint_bands
from handfast.uncertainty.mate_row import Row, mate_row
from handfast.uncertainty.refusal import BudgetError, ChainError, SourceError
from handfast.uncertainty.sources import sources_of
from handfast.uncertainty.unknowns import taken_as_exact, unknowns
from handfast.uncertainty.walk import walk_twice


def budget(project: Project, chart: Chart, chart_sha256: str, poses: HandPoses | None = None) -> Ledger:
    """Error chains derived from the chart, one row for each mate; the same inputs give the same ledger.

    poses: T_world_grip where each element's motions end (of a touch: where contact is expected); None: by
    forward kinematics from the motions. Raises SourceError for an error source that cannot be used,
    ChainError for a chart from which no chain can be derived. A mate without a budget is listed with the
    reason and counts as not shown.
    """
    sources = sources_of(project)
    given = Given(project, chart, sources, hand_poses(project, chart) if poses is None else poses)
    entries, untouched = walk_twice(given)
    rows: list[Row] = []
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
    shown, touched, bare_yield = _in_order(rows, len(missing), chart_sha256)
    return Ledger(
        chart_sha256=chart_sha256,
        rows=shown,
        build_yield=touched,
        build_yield_untouched=bare_yield,
        updates=tuple(updates),
        not_budgeted=tuple(missing),
        unknowns=unknowns(shown),
        taken_as_exact=taken_as_exact(project, chart, sources),
    )


def _in_order(rows: list[Row], missing: int, chart_sha256: str) -> tuple[tuple[MateRow, ...], Band, Band]:
    """The rows with their chances in order, and the yield of the whole build with touches and without."""
    dependent = [
        (r.row.probability.model_dependent, r.row.probability_untouched.model_dependent) for r in rows
    ]
    with_touches, without = joint_bands([r.asked for r in rows], dependent, chart_sha256)
    shown = tuple(
        replace(r.row, in_order=a, in_order_untouched=b)
        for r, a, b in zip(rows, with_touches.in_order, without.in_order, strict=True)
    )
    unknown = [Band(0.0, 1.0, True)] * missing
    bounds = all_hold([*(r.probability for r in shown), *unknown])
    bounds_bare = all_hold([*(r.probability_untouched for r in shown), *unknown])
    return shown, _whole(with_touches.whole, bounds, missing), _whole(without.whole, bounds_bare, missing)


def _whole(drawn: Band, bounds: Band, missing: int) -> Band:
    """Of the whole build. A mate that is not budgeted may always fail."""
    if missing:
        return Band(0.0, min(drawn.high, bounds.high), True)
    return enclosed(drawn, bounds)
