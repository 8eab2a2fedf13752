"""A small trial in a process that kills itself at a chosen byte of what it writes of its builds.

Started as `python -m tests.trials.killed_trial FILE BUILDS BYTE [PROCESSES]`; BYTE -1: it comes to its end.
"""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path

from tests.trials.bench_chart import bench_chart, bench_project, ledger, source

from handfast.files.build_log import BuildLog
from handfast.files.log_lines import LineWriter, as_line
from handfast.model.trial import TrialReport
from handfast.trials.trial import Ways, trial

ERRORS = (source("holder.nest", 3e-4, changes="shift"), source("touch.right", 1e-5))
OF = {"trial": "bench"}


def whole(builds: int, log: BuildLog | None = None, processes: int = 1) -> TrialReport:
    """The trial, gone on with from what the log has."""
    project = bench_project(*ERRORS)
    ways = Ways() if log is None else Ways(done=log.done, keep=log.add, processes=processes)
    return trial(project, bench_chart(project), ledger(), builds=builds, seed=11, ways=ways)


def kill_at(byte: int) -> None:
    """From now on this process dies once it has written so many bytes of builds."""
    left = [byte]

    def write(self: LineWriter, line: object, *, lasting: bool = False) -> None:
        raw = as_line(line)  # type: ignore[arg-type]
        os.write(self._file.fileno(), raw[: left[0]])
        left[0] -= len(raw)
        if left[0] <= 0:
            os.kill(os.getpid(), signal.SIGKILL)

    LineWriter.write = write  # type: ignore[method-assign]


if __name__ == "__main__":
    if int(sys.argv[3]) >= 0:
        kill_at(int(sys.argv[3]))
    whole(int(sys.argv[2]), BuildLog(Path(sys.argv[1]), OF), *map(int, sys.argv[4:]))
