"""The verb: a chart replayed and certified against the project alone."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.project import Project
from handfast.model.proof import Contact, Proof, Violation
from handfast.proof.bodies import CellBodies, load_bodies
from handfast.proof.built_apart import taken_as_firm
from handfast.proof.entry import Entry
from handfast.proof.in_parts import certify_all
from handfast.proof.motion_checks import broken, check_motion, line_of
from handfast.proof.pieces_table import piece_table
from handfast.proof.replay import run
from handfast.proof.replay_state import made
from handfast.proof.squeeze import rings_taken_as_rigid
from handfast.proof.start_checks import check_start
from handfast.proof.tally import Meeting
from handfast.proof.timeline import check_times, lay_out

Progress = Callable[[float], None]


def verify(
    project: Project,
    chart: Chart,
    chart_sha256: str,
    *,
    progress: Progress | None = None,
    entry: Entry | None = None,
) -> Proof:
    """Check a chart from its start to its end; trust nothing it claims.

    chart_sha256: hash of the chart's record, kept in the proof; progress: told the share done, 0 to 1, now
    and then; entry: of a run that begins in the middle, what is before it is not certified again. What is
    wrong with the chart is in the proof's violations. Raises ArmError, MeshError or OSError where the
    project's own URDF or mesh files cannot be used.
    """
    cell = load_bodies(project)
    readable, found = _readable(cell, chart)
    found += check_start(project, chart) + check_times(project, readable)
    timeline = lay_out(readable)
    for move in timeline.moves:
        arm = project.cell.arm(move.motion.arm)
        found += check_motion(move.element, move.path, move.start, arm, cell.arms[arm.name])
    table = piece_table(cell)
    wrong, jobs = run(project, cell, readable, timeline, table, entry)
    tally = certify_all(cell, table, jobs, progress)
    found += wrong
    found += [_violation(meeting, readable) for meeting in tally.meetings.values()]
    return Proof(
        chart_sha256=chart_sha256,
        violations=tuple(sorted(found, key=lambda v: (v.time_s, v.element, v.kind, v.text))),
        contacts=tuple(
            Contact(a, b, reason, seconds) for (a, b, reason), seconds in sorted(tally.touching.items())
        ),
        smallest_clearance=tally.shown(),
        closest=tally.closest,
        closest_element=tally.closest_element,
        configurations=tally.configurations,
        assumptions=(
            *rings_taken_as_rigid(project.product),
            *taken_as_firm(project.product),
            *([entry.words()] if entry else []),
        ),
    )


def _readable(cell: CellBodies, chart: Chart) -> tuple[Chart, list[Violation]]:
    """The chart without what cannot be replayed at all, and a violation for each such thing."""
    found: list[Violation] = []
    elements = []
    for element in chart.elements:
        if element.hand not in cell.arms:
            text = (
                f"{line_of(element)}: the cell has no hand {element.hand!r}; it has: {', '.join(cell.arms)}"
            )
            found.append(made("jump", element, element.start_s, 0.0, text))
        elif not (math.isfinite(element.start_s) and math.isfinite(element.duration_s)):
            text = f"{line_of(element)}: its times are no numbers"
            found.append(made("time", element, 0.0, 0.0, text))
        else:
            kept, wrong = _readable_motions(cell, element)
            elements.append(kept)
            found += wrong
    return replace(chart, elements=tuple(elements)), found


def _readable_motions(cell: CellBodies, element: Element) -> tuple[Element, list[Violation]]:
    found, kept = [], []
    for place, motion in enumerate(element.motions, 1):
        why = broken(motion, cell.arms[element.hand].joints)
        if motion.arm != element.hand:
            why = f"is of the {motion.arm!r} arm"
        if why:
            text = f"{line_of(element)}: motion {place} {why}"
            found.append(made("discontinuity", element, element.start_s, 0.0, text))
        else:
            kept.append(motion)
    return replace(element, motions=tuple(kept)), found


def _violation(meeting: Meeting, chart: Chart) -> Violation:
    """A meeting in words."""
    lines = {element.number: line_of(element) for element in chart.elements}
    where = lines.get(meeting.element, "the start")
    gap = meeting.distance
    if gap > 0:
        what = f"comes within {1e3 * gap:.3f} mm of {meeting.b}, which cannot be told from a collision"
    elif gap < -1e-6 and np.isfinite(gap):
        what = f"runs into {meeting.b}, {-1e3 * gap:.2f} mm deep"
    else:
        what = f"runs into {meeting.b}"
    if meeting.reason:
        what += f" (they may touch here by reason of the {meeting.reason}, but not cut into each other)"
    text = f"{where}: {meeting.a} {what}, at {meeting.time:.3f} s"
    return Violation("collision", meeting.element, meeting.time, max(-gap, 0.0), meeting.a, meeting.b, text)
