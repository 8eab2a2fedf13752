"""Fields of the JSON answers are the documented ones."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from tests.cli.test_commands import FIRST_FIT, answer

TABLE = (Path(__file__).parents[2] / "docs" / "json.md").read_text(encoding="utf-8")


def documented(what: str) -> set[str]:
    (row,) = re.findall(rf"^\| {re.escape(what)} \| (.*) \|$", TABLE, re.MULTILINE)
    return {"version", "verb", *re.findall(r"`(\w+)`", row)}


def test_check() -> None:
    assert set(answer("check", FIRST_FIT)) == documented("check")


@pytest.mark.slow
def test_the_rest_of_the_thread(planned: tuple[Path, dict[str, Any]], tmp_path: Path) -> None:
    folder, plan = planned
    assert set(plan) == documented("plan, if there is a plan")
    for verb in ("verify", "budget", "show"):
        assert set(answer(verb, folder)) == documented(verb)
    assert set(answer("what-if", folder, "--set", "right jaws.x=0.1mm")) == documented("what-if")
    assert set(answer("trial", folder, "--builds", "1")) == documented("trial")
    assert set(answer("run", folder)) == documented("run")
    assert set(answer("page", folder, "--out", tmp_path / "p.html")) == documented("page")
    assert set(answer("report", folder, "--out", tmp_path, "--no-pdf")) == documented("report, export")


@pytest.mark.slow
def test_layout() -> None:
    assert set(answer("layout", FIRST_FIT, "--work", "0")) == documented("layout")


def test_no_plan() -> None:
    from handfast.cli.do_plan import no_plan_json
    from handfast.model.no_plan import CauseCount, NoPlan

    no = NoPlan("p", "m", True, (CauseCount("out of reach", 3, "0.12 m"),))
    fields = {"version", "verb", "run_info", *no_plan_json(no, 3, 7, "0" * 64)}
    assert fields == documented("plan, if there is none")
