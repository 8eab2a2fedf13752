"""commission and learn on the command line."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest
from tests.cli.test_commands import answer, handfast

from handfast.files.run_log_file import read_run_log

pytestmark = pytest.mark.slow


def test_what_was_measured_is_compared_and_can_be_taken_over(
    planned: tuple[Path, dict[str, Any]], tmp_path: Path
) -> None:
    where = Path(shutil.copytree(planned[0], tmp_path / "first-fit"))
    log = where / "records" / "commission-log.jsonl"
    result = handfast("commission", where, "--seed", "7")
    assert "as declared  right arm touches x" in result.stdout
    assert "not measured: arm against arm" in result.stdout
    assert read_run_log(log).log.ended == "done"
    found = answer("learn", where, log)
    touch = next(r for r in found["rows"] if r["source"] == "right arm touches")
    assert touch["interval"][0] < 2e-5 < touch["interval"][1]
    # Logs are those of one chart: once the files have changed they are not compared.
    errors = where / "errors.yaml"
    errors.write_text(errors.read_text().replace("0.02 mm", "0.03 mm", 1))
    refused = handfast("learn", where, log)
    assert refused.exit_code == 2
    assert "errors.yaml" in refused.stderr


def test_logs_that_are_none_are_refused(planned: tuple[Path, dict[str, Any]], tmp_path: Path) -> None:
    bad = tmp_path / "log"
    bad.write_text("hello\n")
    result = handfast("learn", planned[0], bad)
    assert result.exit_code == 2
    assert "expected a run log" in result.stderr
