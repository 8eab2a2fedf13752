"""A short list of charts to choose from, and a sub-assembly planned alone."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from tests.cli.test_commands import FIRST_FIT, answer, handfast

BANK = Path(__file__).parents[2] / "projects" / "valve-bank"


@pytest.fixture(scope="module")
def project(tmp_path_factory: pytest.TempPathFactory) -> Path:
    where = tmp_path_factory.mktemp("choices") / "first-fit"
    return Path(shutil.copytree(FIRST_FIT, where, ignore=shutil.ignore_patterns("records")))


def test_the_list_is_by_cycle_time_and_restore_takes_from_it(project: Path) -> None:
    found = answer("plan", project, "--seed", "7", "--together", "--optimise-work", "8")
    listed = found["choices"]
    assert len(listed) >= 2
    cycles = [c["cycle_s"] for c in listed]
    assert cycles == sorted(cycles)
    assert cycles[0] == found["makespan_s"]
    assert [c["kept_as"] for c in listed] == ["", *(f"choice-{k}" for k in range(2, len(listed) + 1))]
    assert all(0 <= c["build_yield"]["low"] <= c["build_yield"]["high"] <= 1 for c in listed)
    assert handfast("restore", project, "choice-2").exit_code == 0
    shown = answer("show", project)
    assert shown["makespan_s"] == cycles[1]
    passed = [e for e in shown["elements"] if e["kind"] == "grasp" and e["target"].startswith("hand.")]
    assert len(passed) == listed[1]["handovers"]
    assert answer("verify", project)["holds"]
    taken = handfast("keep", project, "choice-9")
    assert (taken.exit_code, "expected another name" in taken.stderr) == (2, True)


def test_a_plan_without_a_search_for_shorter_cycles_lists_nothing(project: Path) -> None:
    assert answer("plan", project, "--seed", "7")["choices"] == []


def test_looking_on_for_a_time_says_that_it_is_not_repeatable(project: Path) -> None:
    result = handfast("plan", project, "--seed", "7", "--optimise", "100 ms")
    assert result.exit_code == 0
    assert "not repeatable" in result.stdout
    assert "bound" in result.stderr  # incumbent, bound and gap as it goes


@pytest.mark.parametrize("text", ["20", "-3 s", "0 s", "soon", "3 mm"])
def test_a_time_needs_its_unit(project: Path, text: str) -> None:
    result = handfast("plan", project, f"--optimise={text}")
    assert (result.exit_code, "--optimise: expected a time" in result.stderr) == (2, True)


def test_a_sub_assembly_is_planned_and_proven_alone(tmp_path: Path) -> None:
    bank = Path(shutil.copytree(BANK, tmp_path / "bank", ignore=shutil.ignore_patterns("records")))
    found = answer("plan", bank, "--only", "valve_2", "--seed", "7")
    assert found["proof_holds"]
    assert {e["mate"] for e in found["elements"]} - {""} == {
        "pin-2a",
        "pin-2b",
        "cap-2",
        "screw-2a",
        "screw-2b",
    }
    assert (bank / "records" / "kept" / "only-valve_2" / "chart.json").is_file()
    assert not (bank / "records" / "chart.json").exists()
    unknown = handfast("plan", bank, "--only", "valve_7")
    assert unknown.exit_code == 2
    assert "it has: valve_1, valve_2, valve_3, valve_4" in unknown.stderr
