"""A trial that was killed goes on where it was, and finds what it would have found."""

from __future__ import annotations

import signal
import subprocess
import sys
from pathlib import Path

import pytest
from tests.trials.killed_trial import OF, whole

from handfast.files.build_log import BuildLog, builds_in

ROOT = Path(__file__).parents[2]
BUILDS = 4


def killed(path: Path, byte: int) -> int:
    """A process that dies at a byte of what it writes; its exit code."""
    command = [sys.executable, "-m", "tests.trials.killed_trial", str(path), str(BUILDS), str(byte)]
    return subprocess.run(command, cwd=ROOT, check=False).returncode


def test_killed_twice_it_ends_as_if_it_had_not_been(tmp_path: Path) -> None:
    path = tmp_path / "builds.jsonl"
    assert killed(path, 900) == -signal.SIGKILL  # in the middle of a line
    kept = builds_in(path, OF)
    assert 0 < len(kept) < BUILDS
    assert killed(path, 1) == -signal.SIGKILL
    log = BuildLog(path, OF)
    assert log.done == kept
    assert whole(BUILDS, log) == whole(BUILDS)
    log.close()
    assert len(builds_in(path, OF)) == BUILDS


def test_processes_of_a_trial_that_was_killed_end_too(tmp_path: Path) -> None:
    """They write to the same pipe, which would stay open as long as one of them runs."""
    path = tmp_path / "builds.jsonl"
    command = [sys.executable, "-m", "tests.trials.killed_trial", str(path), "4", "900", "2"]
    done = subprocess.run(command, cwd=ROOT, check=False, capture_output=True, timeout=120)
    assert done.returncode == -signal.SIGKILL
    assert len(builds_in(path, OF)) < 4


def test_builds_of_another_trial_are_not_gone_on_with(tmp_path: Path) -> None:
    path = tmp_path / "builds.jsonl"
    log = BuildLog(path, OF)
    for build in whole(1).builds:
        log.add(build)
    log.close()
    assert len(builds_in(path, OF)) == 1
    assert builds_in(path, {"trial": "another"}) == ()


@pytest.mark.parametrize("cut", [2, 40, 200])
def test_a_line_that_was_cut_is_left_out_and_does_not_spoil_the_next(tmp_path: Path, cut: int) -> None:
    path = tmp_path / "builds.jsonl"
    builds = whole(2).builds
    log = BuildLog(path, OF)
    for build in builds:
        log.add(build)
    log.close()
    path.write_bytes(path.read_bytes()[:-cut])
    again = BuildLog(path, OF)
    assert again.done == builds[:1]
    again.add(builds[1])
    again.close()
    assert builds_in(path, OF) == builds
