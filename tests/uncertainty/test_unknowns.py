"""What nobody measured: the three that matter most, and what nobody wrote at all."""

from __future__ import annotations

from dataclasses import replace

from tests.uncertainty import first_fit_chart as c

from handfast.model.ledger import Ledger
from handfast.model.project import Project
from handfast.uncertainty.budget import budget

PROJECT = c.first_fit()


def ledger(project: Project) -> Ledger:
    chart = c.chart()
    return budget(project, chart, "sha", c.hand_poses(chart))


def assumed(*names: str) -> Project:
    errors = tuple(replace(s, assumed=s.name in names) for s in PROJECT.errors)
    return replace(PROJECT, errors=errors)


def test_of_the_assumed_sources_those_that_matter_most_are_named() -> None:
    found = ledger(
        assumed("right arm against table", "right jaws", "nest put on the table", "left arm repeats")
    )
    assert found.unknowns[0].source == "right arm against table"
    assert {u.source for u in found.unknowns} == {
        "right arm against table", "right jaws", "nest put on the table"
    }  # fmt: skip
    gains = [u.gained_if_halved for u in found.unknowns]
    assert gains == sorted(gains, reverse=True)
    best = found.unknowns[0]
    shown = next(r for r in found.rows if r.mate == best.mate)
    told = next(k for k in shown.contributors if k.source == best.source)
    assert told.assumed
    assert told.gained_if_halved == best.gained_if_halved > 0.01


def test_nothing_assumed_nothing_named() -> None:
    assert ledger(assumed()).unknowns == ()


def test_edges_without_a_word_are_told() -> None:
    found = ledger(PROJECT)
    assert "tool.driver.bit" in found.taken_as_exact
    assert "arm.right.base" not in found.taken_as_exact
    errors = tuple(s for s in PROJECT.errors if s.acts_on != "arm.right.base")
    assert "arm.right.base" in ledger(replace(PROJECT, errors=errors)).taken_as_exact
    # Slack stands for the place of the driver: it is not exact.
    assert "place.stand.driver" not in found.taken_as_exact
