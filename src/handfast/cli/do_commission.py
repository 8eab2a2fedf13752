"""handfast commission."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import get_args

from handfast.checking.checked_project import CheckedProject
from handfast.cli.do_learn import do_learn
from handfast.cli.do_run import must_be_known, open_cell, proven, real_cell
from handfast.cli.exit_codes import NO, UnusableError
from handfast.cli.open_project import open_project
from handfast.cli.run_lines import tell_end
from handfast.cli.saved_records import must_be_of, need, record_path
from handfast.cli.screen import progress, say
from handfast.execution.cell import Cell
from handfast.execution.person import Answered, Person, Step
from handfast.execution.repeats import Repeats
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.model.run_log import LogLine, RunLog
from handfast.workflow.guided import NoArtefactError, empty_cell, the_artefact, touch_with_both, turn_tools
from handfast.workflow.learn_sources import Routine, commission
from handfast.workflow.run_chart import Told

ALL: tuple[Routine, ...] = get_args(Routine)
_ON_THE_WAY: dict[Routine, Repeats] = {
    "jaws": Repeats(20, 1, 1, 0), "touches": Repeats(1, 30, 1, 0), "looks": Repeats(1, 1, 20, 0),
    "forces": Repeats(1, 1, 1, 60),
}  # fmt: skip
"""What is measured while the chart is run: closing jaws, guarded moves, finding parts, forces at rest."""


class AtTerminal:
    """Asks whoever sits at the terminal. Implements `Person`."""

    def done(self, step: Step) -> bool:
        """Show it, and wait for a line; "stop", or the end of the input, means no."""
        show(step)
        print("Enter when it is done, `stop` to end here: ", end="", file=sys.stderr, flush=True)
        line = sys.stdin.readline()
        return bool(line) and line.strip().lower() not in ("stop", "s", "no", "n")


class Shown(Answered):
    """Shows what a person would do, and goes on: for the simulated cell."""

    def done(self, step: Step) -> bool:
        """At once."""
        show(step)
        print("   the simulated cell does it itself", file=sys.stderr)
        return True


def show(step: Step) -> None:
    """What has to be done, in order."""
    print(f"\n{step.title}", file=sys.stderr)
    for number, sentence in enumerate(step.todo, 1):
        print(f"  {number}. {sentence}", file=sys.stderr)


def do_commission(
    folder: str,
    cell: str,
    seed: int,
    log: str | None,
    as_json: bool,
    only: Sequence[str] = (),
    stands: str = "",
) -> int:
    """Measure by the routines asked for, and compare with what is declared. No: something is refuted, or one
    of them stopped."""
    must_be_known(cell)
    routines = chosen(only)
    if log is not None and len({r if r in ("artefact", "runout") else "chart" for r in routines}) > 1:
        raise UnusableError("--log: expected routines of one log, found several; name one with --only")
    checked = open_project(folder)
    logs: list[str] = []
    ended = True
    for routine, work in (("artefact", _artefact), ("runout", _runout)):
        if routine not in routines or not ended:
            continue
        why = _nothing_for(checked, routine)
        if why and only:
            raise UnusableError(f"--only {routine}: {why}")
        if not why:  # else `learn` says that it was not measured
            path = _log(folder, log, routine)
            named = stands if routine == "artefact" or only else ""
            ended &= _told(work(checked, cell, seed, path, named), path, as_json)
            logs.append(str(path))
    on_the_way = [r for r in routines if r in _ON_THE_WAY]
    if on_the_way and ended:
        path = _log(folder, log, "")
        ended &= _told(_chart(checked, folder, cell, seed, path, on_the_way), path, as_json)
        logs.append(str(path))
    code = do_learn(folder, logs, accept=False, as_json=as_json)
    return code if ended else NO


def _nothing_for(checked: CheckedProject, routine: str) -> str:
    """Why a guided routine has nothing to measure with, or nothing to measure; "" if it has."""
    try:
        the_artefact(checked.project)
    except NoArtefactError as error:
        return str(error)
    return (
        "cell.yaml has no tool with a bit" if routine == "runout" and not checked.project.cell.tools else ""
    )


def chosen(only: Sequence[str]) -> tuple[Routine, ...]:
    """The routines asked for, all if none is named. Raises UnusableError for one that there is not."""
    names = [name for one in only for name in _names(one)]
    unknown = [n for n in names if n not in ALL]
    if unknown:
        raise UnusableError(f"--only {unknown[0]}: expected one of: {', '.join(ALL)}")
    return tuple(r for r in ALL if r in names) if names else ALL


def _log(folder: str, log: str | None, name: str) -> Path:
    default = f"commission-log-{name}" if name else "commission-log"
    return Path(log) if log is not None else record_path(folder, default).with_suffix(".jsonl")


def _told(found: RunLog | None, path: Path, as_json: bool) -> bool:
    if found is None:
        say(f"stopped by the person; what was measured is in {path}")
        return False
    if found.ended != "done" and not as_json:
        tell_end(found)
    return found.ended == "done"


def _carried_out(work: Callable[[Told], RunLog], every: int, of: int, event: str) -> RunLog | None:
    """With progress; None if the person at the terminal broke it off, whose log then ends there."""
    count = 0
    with progress("measured", every) as tell:

        def told(line: LogLine) -> None:
            nonlocal count
            if line.event == event:
                tell(line.text or line.element, count, of)
                count += 1

        try:
            return work(told)
        except KeyboardInterrupt:
            return None


def _artefact(checked: CheckedProject, cell: str, seed: int, path: Path, stands: str) -> RunLog | None:
    names = _names(stands)
    opened, person = _for_guided(checked, cell, seed)
    visits = len(names) or len(the_artefact(checked.project).stands)

    def work(told: Told) -> RunLog:
        return touch_with_both(checked, opened, person, stands=names, log=path, told=told, seed=seed).body

    return _carried_out(_usable(work, path), 21, visits * len(checked.project.cell.arms) * 21, "ball")


def _runout(checked: CheckedProject, cell: str, seed: int, path: Path, stands: str) -> RunLog | None:
    stand = next(iter(_names(stands)), "")
    opened, person = _for_guided(checked, cell, seed)

    def work(told: Told) -> RunLog:
        return turn_tools(checked, opened, person, stand=stand, log=path, told=told, seed=seed).body

    return _carried_out(_usable(work, path), 36, 72 * len(checked.project.cell.tools), "bit")


def _names(listed: str) -> list[str]:
    return [name.strip() for name in listed.split(",") if name.strip()]


def _for_guided(checked: CheckedProject, cell: str, seed: int) -> tuple[Cell, Person]:
    """The cell, and who sets things up in it."""
    return (empty_cell(checked, seed), Shown()) if cell == "simulated" else (real_cell(cell), AtTerminal())


def _usable(work: Callable[[Told], RunLog], path: Path) -> Callable[[Told], RunLog]:
    """The same, what cannot be used told as a mistake in what was typed."""

    def tried(told: Told) -> RunLog:
        try:
            return work(told)
        except KeyError as error:
            raise UnusableError(f"--stands: {error.args[0]}") from error
        except OSError as error:
            raise UnusableError(f"{path}: cannot be written: {error.strerror}") from error

    return tried


def _chart(
    checked: CheckedProject, folder: str, cell: str, seed: int, path: Path, routines: list[Routine]
) -> RunLog | None:
    chart = need(folder, "chart", Chart)
    must_be_of(checked.project, chart, folder)
    ledger = need(folder, "ledger", Ledger)
    proof = proven(checked, chart, folder)
    repeats = Repeats(1, 1, 1, 0)
    for routine in routines:
        one = _ON_THE_WAY[routine]
        repeats = replace(
            repeats,
            grasp=max(repeats.grasp, one.grasp),
            touch=max(repeats.touch, one.touch),
            look=max(repeats.look, one.look),
            force=max(repeats.force, one.force),
        )
    opened = open_cell(checked, chart, cell, seed)

    def work(told: Told) -> RunLog:
        return commission(
            checked, chart, ledger, opened, repeats=repeats, proof=proof, log=path, told=told
        ).body

    return _carried_out(work, 10, len(chart.body.elements), "start")
