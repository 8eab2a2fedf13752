"""Which of the errors that nobody measured matter most, and which nobody even wrote down."""

from __future__ import annotations

from collections.abc import Sequence

from handfast.model.chart import Chart
from handfast.model.ledger import MateRow, Unknown
from handfast.model.project import Project
from handfast.uncertainty.sources import Sources

_SHOWN = 3


def unknowns(rows: Sequence[MateRow]) -> tuple[Unknown, ...]:
    """The assumed sources that matter most, at most three: by what a mate would gain with the source half
    as large, then by its largest share.
    """
    best: dict[str, Unknown] = {}
    for row in rows:
        for c in row.contributors:
            if not c.assumed:
                continue
            had = best.get(c.source)
            share = max(c.share, had.share if had else 0.0)
            if had is None or c.gained_if_halved > had.gained_if_halved:
                best[c.source] = Unknown(c.source, row.mate, c.gained_if_halved, share)
            else:
                best[c.source] = Unknown(had.source, had.mate, had.gained_if_halved, share)
    ranked = sorted(best.values(), key=lambda u: (-u.gained_if_halved, -u.share, u.source))
    return tuple(ranked[:_SHOWN])


def taken_as_exact(project: Project, chart: Chart, sources: Sources) -> tuple[str, ...]:
    """Edges that the chart's chains go over and on which no error acts: taken as exact for want of a word."""
    hands = [h for h in chart.hands if any(e.hand == h for e in chart.elements)]
    grippers = [project.cell.gripper_of(h).name for h in hands]
    places = [a.parent for a in chart.start.attachments if a.parent.startswith("place.")]
    holders = list(dict.fromkeys(p.split(".")[1] for p in places))
    tools = [t.name for t in project.cell.tools if any(a.item == t.name for a in chart.start.attachments)]
    used = [
        *(f"arm.{h}.{end}" for h in hands for end in ("base", "tip", "flange")),
        *(f"gripper.{g}.{what}" for g in grippers for what in ("jaw", "fingers")),
        *(f"grasp.{g}.free" for g in grippers),
        *(f"holder.{h}" for h in holders),
        *places,
        *(f"tool.{t}.bit" for t in tools),
        *(f"touch.{e.hand}" for e in chart.elements if e.touch is not None),
    ]
    return tuple(edge for edge in dict.fromkeys(used) if not sources.by_edge.get(edge))
