"""The processes that work for the page: one that checks and plans what is saved, one that runs a build."""

from __future__ import annotations

import json
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

from handfast.page.live.board import Board
from handfast.page.live.following import Follower
from handfast.page.live.watch import differences, fingerprint
from handfast.page.live.work import GEOMETRY, SHEET

EVERY = 0.4  # how often the files are looked at [s]
PATIENCE = 5.0  # with a process that was asked to end [s]
RUN_WORK = "handfast.page.live.run_work"
Line = dict[str, Any]


class Worker:
    """A child process that answers in lines of JSON. Starting it anew ends the one before."""

    def __init__(self, module: str, arguments: tuple[str, ...], heard: Callable[[Line], None]) -> None:
        self._words = [sys.executable, "-m", module, *arguments]
        self._heard = heard
        self._process: subprocess.Popen[str] | None = None
        self._lock = threading.Lock()

    @property
    def going(self) -> bool:
        """Whether it is at work."""
        return self._process is not None and self._process.poll() is None

    def start(self, *more: str) -> None:
        """Begin, or begin anew. more: arguments for this time."""
        with self._lock:
            self.stop()
            process = subprocess.Popen(
                [*self._words, *more],
                stdin=subprocess.DEVNULL,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                text=True,
            )
            self._process = process
        threading.Thread(target=self._follow, args=(process,), daemon=True).start()

    def stop(self) -> bool:
        """End it, cut short if it takes long; whether it was cut short before it could say how it ended."""
        process = self._process
        if process is None or process.poll() is not None:
            return False
        process.terminate()
        try:
            process.wait(PATIENCE)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
        return process.returncode < 0

    def _follow(self, process: subprocess.Popen[str]) -> None:
        out, err = process.stdout, process.stderr
        complaint: list[str] = []
        if err is not None:
            threading.Thread(target=lambda: complaint.extend(err), daemon=True).start()
        for line in out or ():
            if process is self._process and line.startswith("{"):
                self._heard(json.loads(line))
        code = process.wait()
        if code > 0 and process is self._process:
            last = next((x.strip() for x in reversed(complaint) if x.strip()), f"exit code {code}")
            self._heard({"broken": last})


class Live:
    """Watches a project folder and keeps the board true to it."""

    def __init__(self, folder: Path, out: Path, seed: int, board: Board) -> None:
        self._folder, self._out, self._board = folder, out, board
        self._arguments = (str(folder), str(out), str(seed))
        self._work = Worker("handfast.page.live.work", self._arguments, self._worked)
        self.build = Worker(RUN_WORK, self._arguments, self._ran)
        self._seen = fingerprint(folder)
        self._follower = Follower(folder)
        self._over = threading.Event()

    def start(self) -> None:
        """Do what is not done yet, then watch."""
        self._work.start()
        threading.Thread(target=self._watch, daemon=True).start()

    def close(self) -> None:
        """End everything."""
        self._over.set()
        self._work.stop()
        self.build.stop()

    def start_build(self, what: dict[str, Any]) -> None:
        """Run a build, or go on with one (run_work)."""
        self.build.start(json.dumps(what))

    def must_be(self, number: int) -> Line:
        """What must be where before an element: {"must_be": [...]}, or {"text": why it cannot be told}."""
        words = [sys.executable, "-m", RUN_WORK, *self._arguments, json.dumps({"list": number})]
        done = subprocess.run(words, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False)
        found = [json.loads(x) for x in done.stdout.splitlines() if x.startswith("{")]
        return found[-1] if found else {"text": f"the worker broke down: {done.stderr.strip()[-200:]}"}

    def stop_build(self) -> bool:
        """Stop the build that is going before its next movement; whether one was."""
        going = self.build.going
        if self.build.stop():
            self._board.tell(
                {"kind": "run", "state": "stopped", "time": 0.0, "text": "stopped by the operator"}
            )
        return going

    def _watch(self) -> None:
        while not self._over.wait(EVERY):
            for news in self._follower.news():
                self._board.tell(news)
            now = fingerprint(self._folder)
            changed = differences(self._seen, now)
            if changed:
                self._seen = now
                self._board.tell({"kind": "work", "text": f"saved: {', '.join(changed[:3])}", "busy": True})
                self._work.start()

    def _worked(self, line: Line) -> None:
        if line.get("sheet"):
            geometry = (self._out / GEOMETRY).read_bytes() if (self._out / GEOMETRY).exists() else b""
            self._board.put_sheet((self._out / SHEET).read_bytes(), geometry)
        elif "broken" in line:
            self._board.tell(
                {"kind": "work", "text": f"✕ the worker broke down: {line['broken']}", "busy": False}
            )
        else:
            self._board.tell({"kind": "work", **line})

    def _ran(self, line: Line) -> None:
        if "broken" in line:
            line = {"state": "failed", "time": 0.0, "text": f"broke down: {line['broken']}"}
        self._board.tell({"kind": "run", **line})
