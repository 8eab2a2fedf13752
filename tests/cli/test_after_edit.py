"""plan, an edit, plan: what is said of what was kept, and what the chart then depends on."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

from tests.cli.test_commands import answer, handfast


def replaced(file: Path, old: str, new: str) -> None:
    text = file.read_text(encoding="utf-8")
    assert old in text
    file.write_text(text.replace(old, new, 1), encoding="utf-8")


def inputs(folder: Path) -> dict[str, str]:
    record = json.loads((folder / "records" / "chart.json").read_bytes())["record"]
    return {f["path"]: f["sha256"] for f in record["inputs"]}


def test_without_an_edit_the_chart_is_the_one_of_before(planned: tuple[Path, dict[str, Any]]) -> None:
    folder, before = planned
    found = answer("plan", folder, "--seed", "7")
    assert found["chart_sha256"] == before["chart_sha256"]
    assert found["taken_over"]["kept"] == found["taken_over"]["of"] > 30
    fresh = answer("plan", folder, "--seed", "7", "--fresh")
    assert (fresh["chart_sha256"], fresh["taken_over"]) == (before["chart_sha256"], None)


def test_an_edit_that_planning_does_not_read_leaves_no_mark(planned: tuple[Path, dict[str, Any]]) -> None:
    folder, before = planned
    replaced(folder / "errors.yaml", "0.35 mm", "0.30 mm")
    found = answer("plan", folder, "--seed", "7")
    assert found["chart_sha256"] != before["chart_sha256"]  # it is of other files
    assert found["taken_over"]["kept"] == found["taken_over"]["of"]
    assert found["chart_sha256"] == answer("plan", folder, "--seed", "7", "--fresh")["chart_sha256"]


def test_an_edit_is_told_with_what_it_changed(planned: tuple[Path, dict[str, Any]], tmp_path: Path) -> None:
    """The presenter 2 mm aside: the screw that comes from it, and nothing else. The chart says what it was
    made from; equal edits of equal charts give equal charts, and --fresh one that depends on the files
    alone."""
    folder, before = planned
    twin = Path(shutil.copytree(folder, tmp_path / "first-fit"))
    for one in (folder, twin):
        replaced(one / "cell.yaml", "[230 mm, 520 mm, 0 mm]", "[232 mm, 520 mm, 0 mm]")
    said = handfast("plan", folder, "--seed", "7").stdout
    assert "  cover-screw: holder presenter changed\n" in said
    assert f"made from chart {before['chart_sha256'][:12]}" in said
    assert "--fresh` plans from nothing" in said
    assert inputs(folder)["chart"] == before["chart_sha256"]
    assert handfast("verify", folder).exit_code == 0
    other = answer("plan", twin, "--seed", "7")
    assert set(other["taken_over"]["anew"]) == {"cover-screw"}
    assert 0 < other["taken_over"]["kept"] < other["taken_over"]["of"]
    once_more = answer("plan", folder, "--seed", "7")  # nothing has changed since
    assert once_more["chart_sha256"] == other["chart_sha256"]
    assert once_more["taken_over"]["of_chart_sha256"] == before["chart_sha256"]
    assert handfast("plan", folder, "--seed", "7", "--fresh").exit_code == 0
    assert "chart" not in inputs(folder)


def test_what_cannot_be_taken_over_is_planned_from_nothing(planned: tuple[Path, dict[str, Any]]) -> None:
    folder, before = planned
    other = handfast("plan", folder, "--seed", "8").stdout
    assert "planned from nothing" in other
    assert "another seed" in other
    basis = folder / "records" / "chart-basis.json"
    basis.write_text(basis.read_text(encoding="utf-8")[:-200], encoding="utf-8")  # cut off
    found = answer("plan", folder, "--seed", "7")
    assert (found["chart_sha256"], found["taken_over"]) == (before["chart_sha256"], None)


def test_a_chart_of_other_hands_is_not_gone_on_from(planned: tuple[Path, dict[str, Any]]) -> None:
    folder, before = planned
    together = answer("plan", folder, "--seed", "7", "--together")
    assert together["from_nothing_because"] == "it has one hand at work at a time"
    again = answer("plan", folder, "--seed", "7")
    assert again["from_nothing_because"] == "it has both hands at work at once"
    assert again["chart_sha256"] == before["chart_sha256"]


def test_a_kept_chart_comes_back_with_what_it_was_planned_from(planned: tuple[Path, dict[str, Any]]) -> None:
    folder, before = planned
    assert handfast("keep", folder, "good").exit_code == 0
    assert handfast("plan", folder, "--seed", "8").exit_code == 0
    assert handfast("restore", folder, "good").exit_code == 0
    found = answer("plan", folder, "--seed", "7")
    assert found["chart_sha256"] == before["chart_sha256"]
    assert found["taken_over"]["kept"] == found["taken_over"]["of"]
