"""`handfast new`: answers, known or not, end with one pin planned and proven, or with what is wrong."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from tests.cli.test_commands import answer, handfast
from tests.files.first_fit_copy import folder_sha256

from handfast.files.starter.questions import QUESTIONS

CELLS = {
    "nobody knows": {},
    "all unknown": {q.key: "unknown" for q in QUESTIONS},
    "thin pin": {"pin_diameter": "3 mm", "pin_length": "24 mm", "depth": "10 mm", "nest_error": "0.4 mm"},
    "thick pin, long arms": {"pin_diameter": "20 mm", "pin_length": "60 mm", "arm_reach": "1300 mm"},
    "deep block": {"depth": "40 mm", "pin_length": "100 mm", "block_size": ["60 mm", "60 mm", "45 mm"]},
    "no chamfer": {"chamfer": "0 mm", "bore_fit": "F8", "pin_fit": "h6", "pocket_error": "0.1 mm"},
}


def new(folder: Path, answers: Any) -> Any:
    """answers: as JSON, which is YAML too."""
    folder.parent.mkdir(exist_ok=True)
    file = folder.parent / "answers.yaml"
    file.write_text(json.dumps(answers))
    return handfast("new", folder, "--answers", file)


@pytest.mark.parametrize("answers", CELLS.values(), ids=CELLS)
def test_answers_end_with_one_pin_planned_and_proven(answers: dict[str, Any], tmp_path: Path) -> None:
    done = new(tmp_path / "first", answers)
    assert done.exit_code == 0, done.stdout
    assert "for 1 of 1 mates" in done.stdout
    for question in QUESTIONS:
        unknown = answers.get(question.key, "unknown") == "unknown"
        assert (f"assumed: {question.key}: " in done.stdout) == unknown
    checked = answer("check", tmp_path / "first")
    assert checked["usable"]
    assert {f["severity"] for f in checked["findings"]} <= {"assumption"}
    assumed = {f["where"] for f in checked["findings"]}
    assert ("sources.nest on the table.sigma" in assumed) == ("mm" not in answers.get("nest_error", ""))
    proof = answer("verify", tmp_path / "first")
    assert proof["holds"]
    assert proof["collisions"] == 0


def test_equal_answers_make_equal_folders(tmp_path: Path) -> None:
    for name in ("a", "b"):
        new(tmp_path / name / "first", {})
    for part in ("meshes", "records"):
        assert folder_sha256(tmp_path / "a/first" / part) != ""
    assert folder_sha256(tmp_path / "a/first/meshes") == folder_sha256(tmp_path / "b/first/meshes")
    assert (tmp_path / "a/first/cell.yaml").read_bytes() == (tmp_path / "b/first/cell.yaml").read_bytes()


WRONG = [
    ({"depth": "35 mm"}, "depth: expected less than the height of the block, found 35 mm"),
    ({"depth": "25 mm"}, "depth: expected at most half the pin's length"),
    ({"pin_diameter": "70 mm", "block_size": ["200 mm", "200 mm", "60 mm"]}, "less than the jaws open"),
    ({"pin_diameter": "50 mm"}, "less than the block is wide"),
    ({"pin_diameter": "8"}, "expected a length with its unit"),
    ({"pin_diametre": "8 mm"}, "write 'pin_diameter'"),
    (["8 mm"], "a list"),
]


@pytest.mark.parametrize(("answers", "told"), WRONG, ids=[w[1] for w in WRONG])
def test_wrong_answers_are_told_and_nothing_is_written(answers: Any, told: str, tmp_path: Path) -> None:
    done = new(tmp_path / "first", answers)
    assert done.exit_code == 2
    assert told in done.stderr
    assert not (tmp_path / "first").exists()


def test_a_fit_that_is_in_no_table_is_found_by_check(tmp_path: Path) -> None:
    done = new(tmp_path / "first", {"bore_fit": "Q99"})
    assert done.exit_code == 2
    assert "parts.block.features.bore.fit [unknown-fit]" in done.stderr


def test_a_folder_with_something_in_it_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "first").mkdir()
    (tmp_path / "first" / "mine.txt").write_text("mine")
    before = folder_sha256(tmp_path / "first")
    done = new(tmp_path / "first", {})
    assert done.exit_code == 2
    assert "something there already" in done.stderr
    assert folder_sha256(tmp_path / "first") == before


@pytest.mark.parametrize("name", ["a:b", "-x", ".."])
def test_a_name_that_is_none(name: str, tmp_path: Path) -> None:
    file = tmp_path / "answers.yaml"
    file.write_text("{}")
    done = handfast("new", "--answers", file, "--", tmp_path / "sub" / name)
    assert done.exit_code == 2
    assert "expected a name" in done.stderr


def test_without_a_terminal_it_asks_for_a_file(tmp_path: Path) -> None:
    done = handfast("new", tmp_path / "first")
    assert done.exit_code == 2
    assert "--answers FILE.yaml" in done.stderr


def test_questions_are_asked_again_until_they_can_be_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from handfast.cli import do_new

    typed = iter(["8", "6 mm", "", "unknown", *[""] * 20])
    asked: list[str] = []

    def at_the_terminal(prompt: str) -> str:
        asked.append(prompt)
        return next(typed)

    monkeypatch.setattr("builtins.input", at_the_terminal)
    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    assert do_new.do_new(str(tmp_path / "first"), None) == 0
    said = capsys.readouterr().out
    assert "expected a length with its unit" in said
    assert len(asked) == len(QUESTIONS) + 1
    assert asked[0] == asked[1]
    assert "diameter: 6 mm" in (tmp_path / "first" / "product.yaml").read_text()
    assert "assumed: pin_fit: g6" in said
