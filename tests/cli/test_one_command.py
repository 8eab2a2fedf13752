"""The program made for the one command that is asked for answers as the whole program does."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from typer.testing import CliRunner

from handfast.cli.app import VERBS, app, made_of, start

RUNNER = CliRunner()


def name_of(verb: Callable[..., None]) -> str:
    return verb.__name__.replace("_", "-")


@pytest.mark.parametrize("verb", VERBS, ids=name_of)
def test_help_and_mistakes_are_told_as_the_whole_program_does(verb: Callable[..., None]) -> None:
    for words in (["--help"], ["--nothing"]):
        whole = RUNNER.invoke(app, [name_of(verb), *words], prog_name="handfast")
        alone = RUNNER.invoke(made_of([verb]), [name_of(verb), *words], prog_name="handfast")
        assert (alone.exit_code, alone.output) == (whole.exit_code, whole.output)
        assert "Usage: handfast" in whole.output


@pytest.mark.parametrize("words", [[], ["--help"], ["pln"], ["--nothing"], ["PLAN"], ["plan"], ["what_if"]])
def test_what_is_asked_for_is_answered_by_the_whole_program(
    words: list[str], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    answers = []
    for ask in (start, app):
        monkeypatch.setattr("sys.argv", ["handfast", *words])
        with pytest.raises(SystemExit) as ended:
            ask()
        answers.append((ended.value.code, *capsys.readouterr()))
    assert answers[0] == answers[1]
