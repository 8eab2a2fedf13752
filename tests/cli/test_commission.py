"""Guided routines on the command line: one at a time, stopped and gone on with, taken over."""

from __future__ import annotations

import shutil
import sys
from io import StringIO
from pathlib import Path

import pytest
from tests.cli.test_commands import FIRST_FIT, answer, handfast

from handfast.cli.do_commission import AtTerminal, chosen
from handfast.cli.exit_codes import UnusableError
from handfast.execution.person import Step
from handfast.files.project_reader import read_project
from handfast.files.run_log_file import read_run_log

pytestmark = pytest.mark.slow

BALL = """
artefacts:
  ball:
    diameter: 25 mm
    middle: [0 mm, 0 mm, 120 mm]
    foot:
      - {cylinder: {diameter: 60 mm, length: 12 mm}, at: {position: [0 mm, 0 mm, 6 mm]}}
      - {cylinder: {diameter: 10 mm, length: 98 mm}, at: {position: [0 mm, 0 mm, 60 mm]}}
    stands:
      front: {at: {position: [0 mm, 250 mm, 0 mm]}}
      back:  {at: {position: [0 mm, 600 mm, 0 mm]}}
      left:  {at: {position: [-110 mm, 300 mm, 0 mm]}}
      right: {at: {position: [110 mm, 560 mm, 0 mm]}}
"""


def test_a_calibration_lists_exactly_what_it_invalidates(folder: Path) -> None:
    """What is listed before it is taken over is what the plan after it makes anew, element by element."""
    assert handfast("plan", folder, "--seed", "7").exit_code == 0
    handfast("commission", folder, "--only", "artefact", "--seed", "3")
    log = folder / "records" / "commission-log-artefact.jsonl"
    said = handfast("learn", folder, log).stdout
    assert "taking this over invalidates:" in said
    listed = answer("learn", folder, log, "--accept")["invalidates"]
    anew = listed["elements"]
    found = answer("plan", folder, "--seed", "7")["taken_over"]
    assert set(found["anew"]) == set(anew) - {"way home"}
    assert all("arm right" in why for why in found["anew"].values())
    assert found["kept"] == listed["of"] - sum(map(len, anew.values()))
    assert found["kept"] > 0  # the left hand's way home


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    where = tmp_path / "first-fit"
    shutil.copytree(FIRST_FIT, where, ignore=shutil.ignore_patterns("records"))
    with (where / "cell.yaml").open("a", encoding="utf-8") as file:
        file.write(BALL)
    return where


def test_arms_are_measured_against_each_other_and_it_is_taken_over(folder: Path) -> None:
    """No chart is needed. What is written is read again as it was measured, and old logs are then refused."""
    result = handfast("commission", folder, "--only", "artefact", "--seed", "3")
    assert "ball at front (1 of 4)" in result.stderr
    assert "Leave the guarded space" in result.stderr
    assert "right arm from left arm, in the middle of the balls" in result.stdout
    log = folder / "records" / "commission-log-artefact.jsonl"
    found = answer("learn", folder, log)
    (move,) = found["moves"]
    assert move["worth"] is True
    assert "measured_from: left" in found["diff"]
    handfast("learn", folder, log, "--accept")
    project, findings = read_project(folder)
    assert project is not None, findings
    arm = project.cell.arm("right")
    assert arm.measured_from == "left"
    assert arm.base.position == pytest.approx(move["new"]["position"], abs=1e-7)
    assert arm.base.quaternion == pytest.approx(move["new"]["quaternion"], abs=1e-8)
    left = next(s for s in project.errors if s.acts_on == "arm.right.base")
    assert left.sigma == pytest.approx(move["sigma"], rel=1e-2)
    again = handfast("learn", folder, log)
    assert again.exit_code == 2
    assert "commission again" in again.stderr


def test_some_stands_now_and_the_others_later_tell_the_same(folder: Path) -> None:
    logs = [str(folder / f"{i}.jsonl") for i in (1, 2)]
    for log, stands in zip(logs, ("front,back", "left,right"), strict=True):
        handfast("commission", folder, "--only", "artefact", "--stands", stands, "--log", log)
    one = answer("learn", folder, logs[0])["offsets"]
    both = answer("learn", folder, *logs)["offsets"]
    wide = [o["interval"][1] - o["interval"][0] for o in (one[5], both[5])]
    assert wide[1] < wide[0]
    whole = read_run_log(logs[0])
    cut = Path(logs[0]).read_bytes()
    Path(logs[0]).write_bytes(cut[: len(cut) * 3 // 4])  # the power failed
    damaged = read_run_log(logs[0])
    assert damaged.damage
    assert len(damaged.log.lines) < len(whole.log.lines)
    assert answer("learn", folder, *logs)["offsets"]


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (("--only", "artefacts"), "expected one of: artefact"),
        (("--only", "artefact", "--stands", "middle"), "there are: front, back, left, right"),
    ],
)
def test_what_there_is_not_is_refused_with_what_there_is(
    folder: Path, words: tuple[str, ...], expected: str
) -> None:
    result = handfast("commission", folder, *words)
    assert result.exit_code == 2
    assert expected in result.stderr


def test_without_an_artefact_it_says_what_to_write(tmp_path: Path) -> None:
    where = Path(shutil.copytree(FIRST_FIT, tmp_path / "p", ignore=shutil.ignore_patterns("records")))
    result = handfast("commission", where, "--only", "artefact")
    assert result.exit_code == 2
    assert "write one under `artefacts:`" in result.stderr


def test_without_a_tool_there_is_no_runout(tmp_path: Path) -> None:
    where = tmp_path / "hand-grip"
    shutil.copytree(FIRST_FIT.parent / "hand-grip", where, ignore=shutil.ignore_patterns("records"))
    with (where / "cell.yaml").open("a", encoding="utf-8") as file:
        file.write(BALL)
    result = handfast("commission", where, "--only", "runout")
    assert result.exit_code == 2
    assert "cell.yaml has no tool" in result.stderr


def test_a_stand_in_material_and_a_slack_beyond_the_finger_are_found(folder: Path) -> None:
    cell = folder / "cell.yaml"
    text = cell.read_text(encoding="utf-8").replace("[0 mm, 600 mm, 0 mm]", "[0 mm, 450 mm, 0 mm]")
    cell.write_text(text.replace("    stands:\n      front", "    slack: 6 mm\n    stands:\n      front"))
    result = handfast("check", folder)
    assert result.exit_code == 1
    assert "artefacts.ball.stands.back.at [stand-in-material]" in result.stdout
    assert "ball 1.2 mm deep" in result.stdout or "deep in holder nest" in result.stdout
    assert "artefacts.ball.slack [slack-beyond-finger]" in result.stdout
    assert "5.5 mm at most" in result.stdout


def test_a_width_too_noisy_and_an_arm_measured_from_itself_are_found(folder: Path) -> None:
    cell = folder / "cell.yaml"
    text = cell.read_text(encoding="utf-8").replace(
        "    force: 90 N\n", "    force: 90 N\n    width_noise: 0.05 mm\n"
    )
    cell.write_text(
        text.replace("  right:\n    <<: *arm\n", "  right:\n    <<: *arm\n    measured_from: right\n")
    )
    result = handfast("check", folder)
    assert result.exit_code == 1
    assert "grippers.left_gripper.width_noise [width-too-noisy]" in result.stdout
    assert "0.024 mm at most" in result.stdout
    assert "arms.right.measured_from [unknown-name]" in result.stdout
    assert "another arm that stands by itself: left" in result.stdout


@pytest.mark.parametrize(("typed", "goes_on"), [("\n", True), ("stop\n", False), ("", False)])
def test_whoever_sits_at_the_terminal_decides(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], typed: str, goes_on: bool
) -> None:
    monkeypatch.setattr(sys, "stdin", StringIO(typed))
    assert AtTerminal().done(Step("ball at front", ("Set it down.", "Leave."))) is goes_on
    assert "  2. Leave." in capsys.readouterr().err


def test_routines_are_chosen_by_name_in_their_own_order() -> None:
    assert chosen(()) == chosen(("looks,forces", "runout,artefact", "touches", "jaws"))
    assert chosen(("forces", "jaws")) == ("jaws", "forces")
    with pytest.raises(UnusableError):
        chosen(("jaw",))


def test_one_routine_of_the_chart_is_done_alone(planned: tuple[Path, object], tmp_path: Path) -> None:
    where = Path(shutil.copytree(planned[0], tmp_path / "first-fit"))
    handfast("commission", where, "--only", "forces", "--seed", "7")
    lines = read_run_log(where / "records" / "commission-log.jsonl").log.lines
    count = {event: sum(ln.event == event for ln in lines) for event in ("force", "contact", "seen")}
    assert count["force"] == 120  # two sensors, 60 readings each
    assert count["contact"] < 10
    assert count["seen"] < 10


def test_the_runout_of_a_bit_is_offered_and_taken_over(folder: Path) -> None:
    """Nobody declared it: it is said where it would have to be written. Declared, it is written there."""
    handfast("commission", folder, "--only", "runout", "--seed", "3")
    log = folder / "records" / "commission-log-runout.jsonl"
    rows = answer("learn", folder, log)["rows"]
    assert [r["source"] for r in rows] == ["tool.driver.bit"] * 4
    assert "not in errors.yaml, write it yourself: tool.driver.bit" in handfast("learn", folder, log).stdout
    with (folder / "errors.yaml").open("a", encoding="utf-8") as file:
        file.write(
            "  bit runs out:\n    acts_on: tool.driver.bit\n    sigma: [0.08 mm, 0.08 mm, 0.05 mm, 0.15 deg, "
            "0.15 deg, 0 deg]\n    changes: shift\n"
        )
    handfast("commission", folder, "--only", "runout", "--seed", "3")
    result = handfast("learn", folder, log, "--accept")
    assert "bit runs out x: declared 0.08 mm" in result.stdout
    project, _ = read_project(folder)
    assert project is not None
    written = next(s for s in project.errors if s.name == "bit runs out").sigma
    found = answer("learn", folder, log)["rows"]
    assert written[0] == pytest.approx(found[0]["observed"], rel=1e-2)
    assert written[2] == pytest.approx(5e-5)
