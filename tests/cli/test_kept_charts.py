"""Known-good charts: kept under a name, set beside the next, put back; and why a mate is done as it is."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest
from tests.cli.test_commands import answer, handfast


@pytest.fixture(scope="module")
def project(planned_once: tuple[Path, dict[str, Any]], tmp_path_factory: pytest.TempPathFactory) -> Path:
    return Path(shutil.copytree(planned_once[0], tmp_path_factory.mktemp("kept") / "first-fit"))


def test_a_chart_is_kept_compared_and_restored(project: Path) -> None:
    before = (project / "records" / "chart.json").read_bytes()
    assert handfast("keep", project, "good").exit_code == 0
    taken = handfast("keep", project, "good")
    assert (taken.exit_code, "choose another" in taken.stderr) == (2, True)
    handfast("plan", project, "--seed", "8")
    found = answer("compare", project / "records" / "kept" / "good", project)
    assert len(found["check_again"]) + found["same"] == len(answer("show", project)["elements"])
    assert found["chart_sha256"][0] != found["chart_sha256"][1]
    assert found["yield"][0] is not None  # the ledger was kept with it
    assert found["yield"][1] is None  # and is none of the new chart
    assert handfast("restore", project, "good").exit_code == 0
    assert (project / "records" / "chart.json").read_bytes() == before
    same = answer("compare", project, project / "records" / "kept" / "good" / "chart.json")
    assert (same["check_again"], same["gone"]) == ([], [])


def test_a_chart_of_other_files_comes_back_with_a_warning(project: Path) -> None:
    assert handfast("keep", project, "older").exit_code == 0
    file = project / "errors.yaml"
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace("0.35 mm", "0.30 mm", 1), encoding="utf-8")
    result = handfast("restore", project, "older")
    file.write_text(text, encoding="utf-8")
    assert result.exit_code == 1
    assert "changed since are errors.yaml" in result.stdout


@pytest.mark.parametrize("name", ["../good", "", ".hidden", "a/b", "x" * 65])
def test_a_name_is_no_path(project: Path, name: str) -> None:
    result = handfast("keep", project, name)
    assert (result.exit_code, "expected a name" in result.stderr) == (2, True)


def test_what_is_not_there_is_said(project: Path, tmp_path: Path) -> None:
    assert "kept are: " in handfast("restore", project, "never").stderr
    assert "expected a project with a chart" in handfast("compare", tmp_path, project).stderr
    assert "expected one of pin-in-bore" in handfast("why", project, "--mate", "lid").stderr


@pytest.mark.slow
def test_why_tells_the_routes_there_were(project: Path) -> None:
    """The pin lies where no hand reaches both it and the bore (the scenario); the left hand holds the cover
    while the screw goes in."""
    pin = answer("why", project, "--mate", "pin-in-bore")
    works = {r["route"]: r["works"] for r in pin["routes"]}
    assert not works["direct left"]
    assert not works["direct right"]
    assert [r["route"] for r in pin["routes"] if r["chosen"]] == ["handover left>right"]
    assert all(r["causes"] for r in pin["routes"] if not r["works"])
    screw = answer("why", project, "--mate", "cover-screw")
    left = next(r for r in screw["routes"] if r["route"] == "tool left")
    assert [c["cause"] for c in left["causes"]] == ["hand is taken"]
