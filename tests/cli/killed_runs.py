"""Runs that are killed with a given number of bytes of their log on the disk, each its own process."""

from __future__ import annotations

import os
import signal
import sys
from contextlib import redirect_stdout
from typing import Any

from handfast.cli.do_run import do_run
from handfast.files.log_lines import LineWriter


def run_and_be_killed(folder: str, log: str, bytes_on_disk: int) -> None:
    """Run a chart in this process and kill it once that many bytes of its log are written."""
    honest = LineWriter.write

    def write(self: LineWriter, line: Any, *, lasting: bool = False) -> None:
        honest(self, line, lasting=lasting)
        if self._file.tell() >= bytes_on_disk:
            os.ftruncate(self._file.fileno(), bytes_on_disk)  # what the log left unwritten becomes zeros
            os.kill(os.getpid(), signal.SIGKILL)

    LineWriter.write = write  # type: ignore[method-assign]
    do_run(folder, "simulated", 7, as_json=True, log=log)


def main(folder: str, out: str, *kept: str) -> None:
    """One child for each kill; tells how each ended."""
    for number in kept:
        child = os.fork()
        if child == 0:
            with open(os.devnull, "w") as nowhere, redirect_stdout(nowhere):
                run_and_be_killed(folder, f"{out}/killed-{number}.jsonl", int(number))
            os._exit(0)
        sys.stdout.write(f"{os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main(*sys.argv[1:])
