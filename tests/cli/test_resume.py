"""run --from and undo on the command line."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from tests.cli.test_commands import answer, handfast

pytestmark = pytest.mark.slow


def test_a_run_goes_on_in_the_middle(planned: tuple[Path, dict[str, Any]], tmp_path: Path) -> None:
    where, _ = planned
    assert handfast("run", where, "--seed", "7").exit_code == 0
    number = next(e["number"] for e in planned[1]["elements"] if e["kind"] == "position")
    found = answer("run", where, "--seed", "7", "--from", str(number))
    assert found["ended"] == "done", found["reason"]
    assert {m["item"] for m in found["must_be"]} == {"block", "pin", "cover", "screw", "driver"}
    assert all(m["right"] for m in found["must_be"])
    ids = [line["element"] for line in found["lines"] if line["event"] == "done"]
    assert ids[0].startswith("back/")  # the arms stood at home, where the run had ended
    # What was touched before is taken over: the same target as in the run from the start.
    corrected = [line for line in found["lines"] if line["event"] == "correction"]
    assert corrected[0]["element"].endswith("locate-right")


def test_what_cannot_be_gone_on_with_is_refused(planned: tuple[Path, dict[str, Any]]) -> None:
    where, _ = planned
    result = handfast("run", where, "--from", "400")
    assert result.exit_code == 2
    assert "no element 400" in result.stderr
    number = next(e["number"] for e in planned[1]["elements"] if e["kind"] == "use")
    result = handfast("run", where, "--seed", "7", "--from", str(number))
    assert result.exit_code == 2
    assert "holds cover in its place" in result.stderr
    assert handfast("run", where, "--seed", "7").exit_code == 0
    result = handfast("undo", where)
    assert result.exit_code == 2
    assert "nothing to undo" in result.stderr
