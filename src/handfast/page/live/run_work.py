"""One build in the simulated cell, for the operator's view: told line by line, stopped by ending the process.

Started as `python -m handfast.page.live.run_work FOLDER OUT SEED`. It moves nothing but numbers. It writes no
record: `handfast run` does.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, cast

from handfast.execution.cell import Cell, CellError
from handfast.files.errors import RecordError
from handfast.files.record_json import load, sha256
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.model.motion import Motion
from handfast.model.run_log import LogLine
from handfast.page.live.current import look, newest
from handfast.page.live.following import going
from handfast.page.live.lines import line
from handfast.page.live.work import RECORDS
from handfast.page.saved import gather
from handfast.page.wording import phrase
from handfast.workflow.inputs import changed_files

_MEASURED = ("start", "done", "width", "contact", "insertion", "screw", "failure", "recovery")
FASTER = 5  # times as fast as the cell would go
_TOLD = ("move", "grip", "release", "guarded_move", "insert", "drive")


class ToldCell:
    """A cell that says what it is asked to do, and where in the chart that is; slow enough to be followed."""

    def __init__(self, cell: Cell, chart: Chart, say: Callable[[float, str], None]) -> None:
        self._cell, self._say, self._now = cell, say, 0.0
        self._places: dict[Motion, tuple[float, str]] = {}
        for element in sorted(chart.elements, key=lambda e: e.number):
            start = element.start_s + element.before_s
            for motion in element.motions:
                start += motion.duration
                self._places[motion] = (start, f"{element.hand}: {element.number} {phrase(element)}")

    def __getattr__(self, name: str) -> Any:
        """Everything is the cell's own; the commands that a person follows are told after they are done."""
        own = getattr(self._cell, name)
        return self._telling(name, own) if name in _TOLD else own

    def _telling(self, name: str, command: Callable[..., Any]) -> Callable[..., Any]:
        def told(arm: str, *arguments: Any) -> Any:
            before = self._cell.clock()
            answer = command(arm, *arguments)
            time.sleep(max(0.0, self._cell.clock() - before) / FASTER)
            motion = next((a for a in arguments if isinstance(a, Motion)), None)
            found = self._places.get(motion) if motion is not None else None
            if found is not None:
                self._now = found[0]
                self._say(self._now, found[1])
            elif name != "move":
                self._say(self._now, f"{arm}: {name.replace('_', ' ')}")
            return answer

        return told


def say(state: str, time_s: float, text: str) -> None:
    """One line for the page."""
    line(state=state, time=time_s, text=text)


def tell(one: LogLine) -> None:
    """What was measured, and which element has ended."""
    if one.event in _MEASURED:
        line(**going(one))


def main(folder: Path, out: Path, seed: int) -> None:
    """Run it, or say why not."""
    looked = look(folder, out / RECORDS)
    if looked.checked is None:
        say("failed", 0.0, "the project files have mistakes: see Why")
        return
    project = looked.checked.project
    chart = newest(project, "chart", Chart, looked.homes)
    if chart is None or changed_files(project, chart):
        say("failed", 0.0, "there is no chart of the files as they are")
        return
    from handfast.workflow.run_chart import run, simulated_cell

    if gather(project, chart, *looked.homes)[0].ledger is None:
        say("failed", 0.0, "there is no ledger of this chart: budget it first")
        return
    ledgers = [load(h / "ledger.json", Ledger) for h in looked.homes if (h / "ledger.json").exists()]
    ledger = next(x for x in ledgers if x.body.chart_sha256 == sha256(chart))
    cell = ToldCell(
        simulated_cell(looked.checked, chart, seed=seed), chart.body, lambda t, x: say("going", t, x)
    )
    log = run(looked.checked, chart, ledger, cast(Cell, cell), told=tell).body
    end = log.lines[-1].time_s if log.lines else 0.0
    if log.ended == "done":
        say("done", end, f"done, {end:.2f} s by the cell's own clock")
    else:
        say("stopped", end, log.reason)


if __name__ == "__main__":
    try:
        main(Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]))
    except (RecordError, CellError, OSError) as error:
        say("failed", 0.0, str(error))
