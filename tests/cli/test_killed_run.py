"""A run that is killed: what was done is in the log, and it is what an undisturbed run does."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from tests.cli.test_commands import handfast

from handfast.files.run_log_file import read_run_log


@pytest.mark.slow
def test_what_was_done_before_a_kill_is_in_the_log(
    planned: tuple[Path, dict[str, Any]], tmp_path: Path
) -> None:
    where, _ = planned
    whole = tmp_path / "whole.jsonl"
    handfast("run", where, "--seed", "7", "--log", whole)
    undisturbed = read_run_log(whole)
    assert undisturbed.damage == ""
    rng = np.random.default_rng(20264)
    for at in rng.integers(2, len(undisturbed.log.lines) - 1, 3):
        path = tmp_path / f"killed-{at}.jsonl"
        command = [sys.executable, "-c", "from handfast.cli.app import start; start()", "run", str(where)]
        command += ["--seed", "7", "--log", str(path)]
        with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as running:
            while running.poll() is None and (not path.exists() or path.read_bytes().count(b"\n") <= at):
                time.sleep(0.002)
            running.send_signal(signal.SIGKILL)
        found = read_run_log(path)
        count = len(found.log.lines)
        assert count >= at
        assert found.log.lines == undisturbed.log.lines[:count]
        if running.returncode != 0:
            assert found.damage == "it has no end: the run was broken off" or "cut off" in found.damage
            assert handfast("replay", path).exit_code == 1
