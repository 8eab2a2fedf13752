"""What the README says a person can type does what it says."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest

import handfast as hf
from handfast.cli.app import app

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_verbs_of_the_readme_are_the_programs() -> None:
    named = set(re.findall(r"^handfast ([\w-]+)", README, re.MULTILINE))
    assert {n.replace("-", "_") for n in named} == {
        str(c.callback.__name__) for c in app.registered_commands if c.callback
    }


def test_every_verb_of_the_package_is_there() -> None:
    for verb in hf.__all__:
        assert callable(getattr(hf, verb))


@pytest.mark.slow
def test_the_python_of_the_readme_runs(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """With one build in place of fifty."""
    (code,) = re.findall(r"```python\n(.*?)```", README, re.DOTALL)
    monkeypatch.chdir(ROOT)
    exec(code.replace("builds=50", "builds=1"), {})
    assert re.match(r"(True|False) pin-in-bore: elements \d+ to \d+", capsys.readouterr().out)
    assert os.getcwd() == str(ROOT)
