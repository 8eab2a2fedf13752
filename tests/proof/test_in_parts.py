"""One process or two: the same proof, and nothing is left behind."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from tests.proof.faults import until
from tests.proof.first_fit_by_hand import by_hand

from handfast.model.chart import Chart
from handfast.model.project import Project
from handfast.model.proof import Proof
from handfast.proof import in_parts, verify
from handfast.proof.certify import certify

needs_two = pytest.mark.skipif(not in_parts.may_fork(), reason="one processor, or other threads run here")


def proofs(monkeypatch: pytest.MonkeyPatch, project: Project, chart: Chart) -> tuple[Proof, Proof]:
    """By one process, and by two."""
    monkeypatch.setattr(in_parts, "LARGE", 0)
    two = verify(project, chart, "sha")
    monkeypatch.setattr(in_parts, "may_fork", lambda: False)
    return verify(project, chart, "sha"), two


def children() -> set[str]:
    """Processes that this one has started and that are still there, ended or not."""
    return set(Path(f"/proc/self/task/{os.getpid()}/children").read_text().split())


@needs_two
def test_two_processes_find_what_one_does(monkeypatch: pytest.MonkeyPatch) -> None:
    builder, chart = by_hand()
    before = children()
    one, two = proofs(monkeypatch, builder.project, until(chart, 8))
    assert one == two
    assert one.contacts
    assert children() == before


@needs_two
def test_what_stops_the_first_ends_the_second(monkeypatch: pytest.MonkeyPatch) -> None:
    builder, chart = by_hand()
    before = children()
    monkeypatch.setattr(in_parts, "LARGE", 0)

    def stop(share: float) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        verify(builder.project, until(chart, 4), "sha", progress=stop)
    assert children() == before


@needs_two
def test_what_the_second_cannot_do_is_done_by_the_first(monkeypatch: pytest.MonkeyPatch) -> None:
    builder, chart = by_hand()
    before = children()
    part = until(chart, 4)
    one, _ = proofs(monkeypatch, builder.project, part)
    monkeypatch.undo()
    monkeypatch.setattr(in_parts, "LARGE", 0)
    here = os.getpid()

    def fails(*args: object) -> None:
        if os.getpid() != here:
            raise MemoryError
        certify(*args)  # type: ignore[arg-type]

    monkeypatch.setattr("handfast.proof.in_parts.certify", fails)
    assert verify(builder.project, part, "sha") == one
    assert children() == before
