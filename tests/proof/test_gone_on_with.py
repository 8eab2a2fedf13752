"""What was measured in one interval and serves those that follow: never more than what is really there."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from tests.proof.faults import of_kind, until, with_motion
from tests.proof.first_fit_by_hand import by_hand

import handfast.proof.certify as certify
import handfast.proof.stretch as stretch
from handfast.model.motion import Motion
from handfast.proof import verify
from handfast.proof.exact import distance
from handfast.proof.joint_path import joint_path
from handfast.proof.scan import Scan, piece_pose, relieved
from handfast.proof.slide import slides_clear
from handfast.proof.stretch import look


@pytest.fixture(autouse=True)
def _one_process(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is watched happens here."""
    monkeypatch.setattr("handfast.proof.in_parts.may_fork", lambda: False)


def _drawn_gap(scan: Scan, pair: int, allowance: Any, low: float, high: float) -> float:
    """The least distance of a pair, drawn in, at instants of an interval that lie close together."""
    table = scan.table
    drawn, other = int(table.first[pair]), int(table.second[pair])
    if scan.cell.bodies[table.body[drawn]].name != allowance.a:
        drawn, other = other, drawn
    nodes = look(scan.cell, table, scan.stretch, np.linspace(low, high, 7), np.zeros(7))
    return min(
        distance(
            table.pieces[drawn].drawn(allowance.skin),
            piece_pose(scan, nodes, row, drawn),
            table.pieces[other].geometry,
            piece_pose(scan, nodes, row, other),
        )
        for row in range(7)
    )


def _until_the_pin_is_in() -> tuple[Any, Any]:
    """With knots as close as those of a planned line."""
    builder, chart = by_hand()
    last = next(e for e in chart.elements if e.kind == "assemble")
    return builder.project, with_motion(until(chart, last.number), last.number, 0, _finer)


def _until_the_driver_has_left_its_stand() -> tuple[Any, Any]:
    """A tool, with knots as close."""
    builder, chart = by_hand()
    last = of_kind(chart, "move", "right", "driver")
    part = until(chart, last.number)
    for place in range(6):
        part = with_motion(part, last.number, place, _finer)
    return builder.project, part


def _finer(motion: Motion) -> Motion:
    times = np.unique(np.concatenate([motion.t, np.linspace(0.0, motion.duration, 40)]))
    q, v, _ = joint_path(motion).at(times)
    rows = (tuple(map(tuple, values.tolist())) for values in (q, v))
    return Motion(motion.arm, motion.path, tuple(times.tolist()), *rows)


def test_a_slide_that_is_gone_on_with_is_as_clear_as_it_says(monkeypatch: pytest.MonkeyPatch) -> None:
    spans: list[tuple[float, float]] = []
    judged: list[tuple[float, float]] = []
    begun: set[int] = set()

    def shown(scan: Scan, at: Any) -> bool | None:
        spans[:] = [(at.low, at.high)]
        return before(scan, at)

    def watched(scan: Scan, nodes: Any, row: int, key: Any, allowance: Any, turn: float, after: Any) -> Any:
        found = slides_clear(scan, nodes, row, key, allowance, turn, after)
        if found is not None and found[0] > found[1]:
            begun.update(id(swept) for swept in scan.swept.values())
            kept.extend(scan.swept.values())
            judged.append((found[0] - found[1], _drawn_gap(scan, key[0], allowance, *spans[0])))
        return found

    kept: list[Any] = []  # so that no two have one id
    before = certify._shown
    monkeypatch.setattr(stretch, "TOGETHER", 1)  # an interval from knot to knot
    monkeypatch.setattr(certify, "_shown", shown)
    monkeypatch.setattr(certify, "slides_clear", watched)
    project, chart = _until_the_pin_is_in()
    assert {v.kind for v in verify(project, chart, "sha").violations} == {"missing mate"}  # the later ones
    assert len(judged) - len(begun) >= 8  # so many go by what was found before
    assert all(there >= said - 1e-6 for said, there in judged)


def test_a_gap_that_is_gone_on_with_is_as_wide_as_it_says(monkeypatch: pytest.MonkeyPatch) -> None:
    judged: list[tuple[float, float]] = []
    measured: list[int] = []

    def asked(*given: Any) -> float | None:
        measured.append(1)
        return relieved(*given)

    def watched(scan: Scan, at: Any, key: Any, allowance: Any, turn: float) -> Any:
        measured.clear()
        gap = before(scan, at, key, allowance, turn)
        if gap is not None and gap > at.bound and not measured:
            judged.append((gap - at.bound, _drawn_gap(scan, key[0], allowance, at.low, at.high)))
        return gap

    before = certify._relieved
    monkeypatch.setattr(stretch, "TOGETHER", 1)
    monkeypatch.setattr(certify, "relieved", asked)
    monkeypatch.setattr(certify, "_relieved", watched)
    project, chart = _until_the_driver_has_left_its_stand()
    assert {v.kind for v in verify(project, chart, "sha").violations} == {"missing mate"}  # the later ones
    assert len(judged) > 3
    assert all(there >= said - 1e-6 for said, there in judged)
