"""Declared against observed: what the readings of runs say about the error sources.

Within one run, repeated readings spread by what changes with each cycle. Over runs they spread by everything
else that changed between them too. Where several sources enter one reading only their sum is seen: it is put
down to one of them if that one is most of what is declared, else the row says that they cannot be told apart
and what would separate them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from handfast.kinematics.chain import load_chain
from handfast.kinematics.forward import forward
from handfast.learning.declared import CYCLE, Part, along, total
from handfast.learning.observed import contacts, forces, off_mean, poses, widths
from handfast.learning.spread import CONFIDENCE, Spread, pooled, slope, spread
from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.jaw_limits import MOST_NOISE
from handfast.model.ledger import Ledger
from handfast.model.project import Project
from handfast.model.run_log import RunLog
from handfast.model.source_proposal import SourceProposal
from handfast.spatial.se3 import Array

# One source is most of a sum if it is this share of its variance; own choice, no source.
_MOST = 0.8
_FEW = 5  # runs below which a spread between runs says nothing


def propose(
    project: Project, chart: Chart, ledger: Ledger | None, logs: Sequence[RunLog]
) -> tuple[SourceProposal, ...]:
    """Every comparison that the logs allow, in order: touches, cameras, sensors, jaws, then between runs."""
    elements = {e.id: e for e in chart.elements}
    known = [_only(log, elements) for log in logs]
    return (
        *_touches(project, elements, known),
        *_cameras(project, known),
        *_sensors(project, known),
        *_jaws(project, elements, known),
        *_between(elements, ledger, known),
    )


def _only(log: RunLog, elements: dict[str, Element]) -> RunLog:
    kept = tuple(ln for ln in log.lines if ln.element in elements)
    return RunLog(log.chart_sha256, log.cell, kept, log.ended, log.reason, log.cause, log.first)


def _touches(project: Project, elements: dict[str, Element], logs: Sequence[RunLog]) -> list[SourceProposal]:
    out = []
    for name, groups in contacts(logs).items():
        found, element = pooled(groups), elements[name]
        if found is None or found.freedoms < _FEW or element.touch is None or element.guarded is None:
            continue
        hand = element.hand
        parts = along(project, f"touch.{hand}", np.eye(6)[0], CYCLE)
        parts += along(project, f"arm.{hand}.tip", _in_tip(project, element), CYCLE)
        apart = f"clock the {hand} arm alone with a dial gauge (ISO 9283) to separate them"
        out.append(
            _row(f"touch.{hand}", 0, parts, found, f"repeated touches of element {element.number}", apart)
        )
    return out


def _in_tip(project: Project, element: Element) -> Array:
    """The direction of a touch in the tip frame of its arm (6,)."""
    arm = project.cell.arm(element.hand)
    guarded = element.motions[element.guarded or 0]
    ends = forward(load_chain(arm, project.folder), np.array([guarded.q[0], guarded.q[-1]]))
    way = ends[0][:3, :3].T @ (ends[1][:3, 3] - ends[0][:3, 3])
    return np.concatenate([way / np.linalg.norm(way), np.zeros(3)])


def _cameras(project: Project, logs: Sequence[RunLog]) -> list[SourceProposal]:
    if not project.cell.cameras:
        return []
    camera = project.cell.cameras[0]
    groups = [off_mean(run) for runs in poses(logs).values() for run in runs if len(run) > _FEW]
    if not groups:
        return []
    out = []
    for i in range(6):
        found = pooled([g[:, i].tolist() for g in groups])
        if found is None:
            continue
        parts = along(project, f"camera.{camera.name}", np.eye(6)[i], CYCLE)
        if not parts and any(s.acts_on == f"camera.{camera.name}" for s in project.errors):
            continue  # declared as changing with the part: repeated looks do not show it
        declared = parts or [Part(f"cell.yaml: cameras.{camera.name}.sigma", i, camera.sigma[i])]
        out.append(_row(f"camera.{camera.name}", i, declared, found, "one part found again and again", ""))
    return out


def _sensors(project: Project, logs: Sequence[RunLog]) -> list[SourceProposal]:
    out = []
    for arm, found in forces(logs).items():
        sensor = next((s for s in project.cell.force_sensors if s.arm == arm), None)
        if sensor is None or len(found) < 10:
            continue
        times, values = [t for t, _ in found], np.array([f for _, f in found])
        each = 1 - (1 - CONFIDENCE) / 3  # three axes are looked at, the fastest counts (Bonferroni)
        rises = [slope(times, values[:, i].tolist(), each) for i in range(3)]
        left = [values[:, i] - rises[i][0] * np.array(times) for i in range(3)]
        noise = pooled([v.tolist() for v in left])
        named = f"cell.yaml: force_sensors.{sensor.name}"
        if noise is not None:
            part = [Part(f"{named}.noise", -1, sensor.noise)]
            out.append(_row(sensor.name, -1, part, noise, "readings at rest, drift taken out [N]", ""))
        fastest, half = max(((60 * abs(r), 60 * h) for r, h in rises), key=lambda r: r[0])
        ends = (max(0.0, fastest - half), fastest + half)
        text = f"drift over {(times[-1] - times[0]) / 60:.1f} min [N/min]"
        out.append(SourceProposal(f"{named}.drift", -1, sensor.drift, fastest, ends, len(found),
                                  ends[0] > sensor.drift, text))  # fmt: skip
    return out


def _jaws(project: Project, elements: dict[str, Element], logs: Sequence[RunLog]) -> list[SourceProposal]:
    """Not an error source, but what tells a slip: its threshold has to stand well above the reading's
    noise."""
    out = []
    by_hand: dict[str, list[list[float]]] = {}
    for name, groups in widths(logs).items():
        by_hand.setdefault(elements[name].hand, []).extend(g for g in groups if len(g) > _FEW)
    for hand, groups in by_hand.items():
        found, gripper = pooled(groups), project.cell.gripper_of(hand)
        if found is not None:
            part = [Part(f"cell.yaml: grippers.{gripper.name}.width_noise", -1, gripper.width_noise)]
            how = f"jaws closed again and again; above {1e3 * MOST_NOISE:.3f} mm it could look like a slip"
            out.append(_row(f"width of {gripper.name}", -1, part, found, how, ""))
    return out


def _between(
    elements: dict[str, Element], ledger: Ledger | None, logs: Sequence[RunLog]
) -> list[SourceProposal]:
    """Touches from run to run against what the ledger foresees of them."""
    out = []
    for name, groups in contacts(logs).items():
        updates = [u for u in (ledger.updates if ledger else ()) if u.element == name]
        if len(groups) < _FEW or not updates or ledger is None:
            continue
        means = [sum(g) / len(g) for g in groups]
        declared = max(u.sigma_reading for u in updates)
        # The ledger foresees readings about zero: their spread about it is what is compared.
        found = spread(math.sqrt(sum(m * m for m in means) / len(means)), len(means), len(means))
        low, high = found.interval
        centre, half = sum(means) / len(means), 2 * found.sigma / math.sqrt(len(means))
        causes = _causes(ledger, elements[name].mate)
        text = (
            f"touch of element {elements[name].number} over {len(means)} runs, mean {1e3 * centre:+.3f} mm "
            f"(+-{1e3 * half:.3f}); the sum of {causes} is seen, which it cannot tell apart: a touch of "
            "a second face, or the same after the cell was set up anew, would"
        )
        wrong = not low <= declared <= high
        row = SourceProposal(
            f"reading of {name}", -1, declared, found.sigma, found.interval, len(means), wrong, text
        )
        out.append(row)
    return out


def _causes(ledger: Ledger, mate: str) -> str:
    row = next((r for r in ledger.rows if r.mate == mate), None)
    named = [c.source for c in row.contributors[:4]] if row is not None else []
    return ", ".join(named) or "all that enters it"


def _row(edge: str, freedom: int, parts: list[Part], found: Spread, how: str, apart: str) -> SourceProposal:
    """One comparison. parts: what is declared to enter the reading."""
    low, high = found.interval
    if not parts:
        text = f"{how}: nothing is declared on {edge}; write a source for it"
        return SourceProposal(edge, freedom, 0.0, found.sigma, found.interval, found.count, low > 0, text)
    whole = total(parts)
    main = max(parts, key=lambda p: p.sigma)
    refuted = not low <= whole <= high
    if len(parts) == 1:
        return SourceProposal(main.source, main.freedom if main.freedom >= 0 else freedom, whole, found.sigma,
                              found.interval, found.count, refuted, how)  # fmt: skip
    others = [p for p in parts if p is not main]
    named = ", ".join(p.source for p in others)
    if main.sigma**2 < _MOST * whole**2:
        text = f"{how}: only the sum is seen, they cannot be told apart; {apart}"
        names = " + ".join(p.source for p in parts)
        return SourceProposal(names, -1, whole, found.sigma, found.interval, found.count, refuted, text)
    rest = total(others) ** 2
    left = [math.sqrt(max(v * v - rest, 0.0)) for v in (found.sigma, low, high)]
    text = f"{how}: with {named} as declared; only the sum is seen: {apart}"
    ends, count = (left[1], left[2]), found.count
    return SourceProposal(main.source, main.freedom, main.sigma, left[0], ends, count, refuted, text)
