"""What a trial says on screen beside its mates."""

from __future__ import annotations

import pytest
from tests.cli.test_commands import FIRST_FIT, handfast

from handfast.cli.trial_text import tell_trial
from handfast.model.reliability import Reliability
from handfast.model.trial import Build, MateTry, TrialReport

AGREED = Reliability("", "", True, 0.95, (), True)


def tried(mate: str, steps: int, unsettled: int) -> MateTry:
    return MateTry(mate, "ok", "", 0.0, 0.0, 1.0, 0.01, steps, unsettled)


@pytest.mark.parametrize(
    ("second", "said"),
    [
        (9, "12 of 500 steps of contact ended without balance, most of them of cover: 9, 3.0 % of its own"),
        (0, "3 of 500 steps of contact ended without balance, most of them of pin: 3, 1.5 % of its own"),
    ],
)
def test_steps_without_balance_are_told(second: int, said: str, capsys: pytest.CaptureFixture[str]) -> None:
    build = Build(0, (tried("pin", 200, 3), tried("cover", 300, second)), 30.0, whole=True)
    tell_trial(TrialReport("", True, (build,), (), 1), AGREED, 1.0)
    assert said in " ".join(capsys.readouterr().out.split())


def test_nothing_is_said_where_all_came_to_balance(capsys: pytest.CaptureFixture[str]) -> None:
    build = Build(0, (tried("pin", 200, 0),), 30.0, whole=True)
    tell_trial(TrialReport("", True, (build,), (), 1), AGREED, 1.0)
    assert "balance" not in capsys.readouterr().out


def test_cycles_that_are_all_alike_are_told_once(capsys: pytest.CaptureFixture[str]) -> None:
    for last, said in (
        (30.02, "cycle 30.0 s, each of them"),
        (31.0, "cycle 30.0 to 31.0 s, half up to 31.0 s"),
    ):
        builds = tuple(Build(i, (), s, whole=True) for i, s in enumerate((30.0, last)))
        tell_trial(TrialReport("", True, builds, (), 2), AGREED, 1.0)
        assert said in capsys.readouterr().out


def test_more_failures_than_builds_cannot_be_asked_for() -> None:
    result = handfast("trial", FIRST_FIT, "--failures", "50", "--builds", "20")
    assert result.exit_code == 2
    assert "found --builds 20; write --builds 500" in result.stderr
