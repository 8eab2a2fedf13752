"""A run that is killed: what was done is in the log, and it is what an undisturbed run does."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from tests.cli.test_commands import handfast

from handfast.files.run_log_file import read_run_log

CHILD = str(Path(__file__).with_name("killed_runs.py"))
KILLS = int(os.environ.get("HANDFAST_KILLS", "6"))  # `make verify`: 20


@pytest.mark.slow
def test_what_was_done_before_a_kill_is_in_the_log(
    planned: tuple[Path, dict[str, Any]], tmp_path: Path
) -> None:
    """Killed with a given number of bytes on the disk: between two lines, and in the middle of one."""
    where = tmp_path / "first-fit"
    shutil.copytree(planned[0], where)
    whole = tmp_path / "whole.jsonl"
    handfast("run", where, "--seed", "7", "--log", whole)
    raw, undisturbed = whole.read_bytes(), read_run_log(whole)
    assert undisturbed.damage == ""
    ends = np.array([k + 1 for k, byte in enumerate(raw) if byte == ord("\n")])
    rng = np.random.default_rng(20264)
    between = rng.choice(ends[:-1], KILLS // 2, replace=False)
    within = np.setdiff1d(rng.integers(ends[0] + 1, ends[-1], KILLS - KILLS // 2), ends)
    kept = sorted({int(n) for n in (*between, *within, ends[2] - 1)})
    command = [sys.executable, CHILD, str(where), str(tmp_path), *map(str, kept)]
    told = subprocess.run(command, capture_output=True, text=True, check=True).stdout.split()
    assert told == [str(-signal.SIGKILL)] * len(kept)
    for number in kept:
        path = tmp_path / f"killed-{number}.jsonl"
        assert path.read_bytes() == raw[:number]
        found = read_run_log(path)
        # A line that lacks nothing but its newline is whole: its length and checksum say so.
        lines = int(np.searchsorted(ends - 1, number, side="right")) - 1
        assert found.log.lines == undisturbed.log.lines[:lines]
        assert found.log.ended == "stopped"
        broken_off = "it has no end: the run was broken off"
        whole_lines = number in ends or number + 1 in ends
        assert found.damage == broken_off if whole_lines else f"line {lines + 2}: " in found.damage
    assert handfast("replay", tmp_path / f"killed-{kept[0]}.jsonl").exit_code == 1
