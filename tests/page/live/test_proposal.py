"""Changes of a project file: a difference first, written when accepted, and nothing else."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.page.live.served import Served, serving

from handfast.files.project_reader import read_folder
from handfast.model.change import Change
from handfast.model.project import Project
from handfast.page.live.proposal import Proposal, ProposalError, accept, propose
from handfast.page.live.watch import differences, fingerprint

FIRST_FIT = Path(__file__).parents[3] / "projects" / "first-fit"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(FIRST_FIT, tmp_path / "first-fit", ignore=shutil.ignore_patterns("records")))


@pytest.fixture
def page(folder: Path, tmp_path: Path) -> Iterator[Served]:
    with serving(folder, tmp_path / "out") as served:
        yield served


def proposed(folder: Path, change: Change) -> Proposal:
    reading = read_folder(folder)
    assert reading.project is not None
    return propose(folder, reading.project, reading.sources, change)


def project(folder: Path) -> Project:
    reading = read_folder(folder)
    assert reading.usable
    assert reading.project is not None
    return reading.project


def move(target: str, *value: float) -> Change:
    return Change("move holder", target, value, "", f"{target}: moved")


def test_only_the_two_numbers_change(folder: Path) -> None:
    found = proposed(folder, move("tray", 0.03, -0.0125, 0.0))
    changed = [
        (a, b) for a, b in zip(found.before.split("\n"), found.after.split("\n"), strict=True) if a != b
    ]
    assert changed == [
        ("    at: {position: [-230 mm, 400 mm, 0 mm]}", "    at: {position: [-200 mm, 387.5 mm, 0 mm]}")
    ]
    assert [x for x in found.diff.split("\n") if x.startswith(("+ ", "- "))] == [
        f"{'-+'[i]}{t}" for i, t in enumerate(changed[0])
    ]


def test_accepted_it_is_what_the_project_says(folder: Path) -> None:
    before = project(folder)
    accept(folder, proposed(folder, move("tray", 0.03, -0.0125, 0.0)))
    after = project(folder)
    assert after.cell.holder("tray").pose.position == pytest.approx((-0.2, 0.3875, 0.0))
    assert after.product == before.product
    assert [h for h in after.cell.holders if h.name != "tray"] == [
        h for h in before.cell.holders if h.name != "tray"
    ]


def test_a_value_that_two_share_is_said_to_be_shared(folder: Path) -> None:
    found = proposed(folder, Change("widen jaws", "right_gripper", (0.08,), "", "right_gripper: wider"))
    assert "left_gripper" in found.text
    accept(folder, found)
    assert [g.opening[1] for g in project(folder).cell.grippers] == pytest.approx([0.08, 0.08])


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (move("shelf", 0.1, 0.0, 0.0), "one of nest, presenter, stand, tray; found 'shelf'"),
        (Change("widen jaws", "claw", (0.1,), "", "x"), "one of left_gripper, right_gripper"),
        (Change("lengthen fingers", "left_gripper", (0.1,), "", "longer"), "by hand"),
        (move("tray", 0.0, 0.0, 0.0), "found 0"),
        (move("tray", float("nan"), 0.0, 0.0), "below 100 m"),
        (move("tray", 1e9, 0.0, 0.0), "below 100 m"),
    ],
)
def test_what_cannot_be_written_is_refused_in_words(folder: Path, change: Change, said: str) -> None:
    with pytest.raises(ProposalError, match=said):
        proposed(folder, change)


def test_a_file_changed_meanwhile_is_not_overwritten(folder: Path) -> None:
    found = proposed(folder, move("tray", 0.03, 0.0, 0.0))
    cell = folder / "cell.yaml"
    cell.write_text(cell.read_text() + "# a note\n")
    with pytest.raises(ProposalError, match="changed since"):
        accept(folder, found)
    assert cell.read_text().endswith("# a note\n")


def test_proposing_over_the_line_writes_nothing_until_it_is_accepted(folder: Path, page: Served) -> None:
    before = fingerprint(folder)
    status, text, _ = page.asked(
        "/api/propose", "POST", {"kind": "move holder", "target": "tray", "value": [0.05, 0, 0]}
    )
    assert status == 200
    assert differences(before, fingerprint(folder)) == ()
    answer = json.loads(text)
    assert "+    at: {position: [-180 mm, 400 mm, 0 mm]}" in answer["diff"]
    assert page.asked("/api/accept", "POST", {"id": "no such"})[0] == 409
    assert page.asked("/api/accept", "POST", {"id": answer["id"]})[0] == 200
    assert differences(before, fingerprint(folder)) == ("cell.yaml",)
    assert page.asked("/api/accept", "POST", {"id": answer["id"]})[0] == 409


@pytest.mark.parametrize(
    "wanted",
    [[], {}, {"kind": "move holder", "target": "tray", "value": ["../x", 0, 0]}, {"tried": 0}, {"tried": "x"},
     {"kind": "delete", "target": "tray", "value": []}],
)  # fmt: skip
def test_nonsense_over_the_line_is_refused(page: Served, wanted: object) -> None:
    assert page.asked("/api/propose", "POST", wanted)[0] == 422
