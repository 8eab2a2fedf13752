"""Chart and ledger -> run log: the chart stepped through a cell."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from handfast.checking.checked_project import CheckedProject
from handfast.execution.cell import Cell
from handfast.execution.repeats import Repeats
from handfast.files.log_lines import LineWriter
from handfast.files.record_json import make_record, sha256
from handfast.files.run_log_file import LogHead, RunLogWriter
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.model.project import Project
from handfast.model.proof import Proof
from handfast.model.record import Record
from handfast.model.run_log import LogLine, RunLog
from handfast.workflow.in_turn import in_turn
from handfast.workflow.inputs import changed_files, inputs_of
from handfast.workflow.make_proof import verify
from handfast.workflow.make_trial import must_fit
from handfast.workflow.not_proven import NotProvenError

if TYPE_CHECKING:
    from handfast.proof.any_timing import AnyTiming

Told = Callable[[LogLine], None]


def run(
    checked: CheckedProject,
    chart: Record[Chart],
    ledger: Record[Ledger],
    cell: Cell,
    *,
    proof: Record[Proof] | None = None,
    log: str | Path | None = None,
    told: Told | None = None,
    repeats: Repeats | None = None,
) -> Record[RunLog]:
    """Run the chart once in that cell and log what happens.

    A cell that is a real machine moves: risk assessment by a competent person, ISO 10218 and local rules,
    reduced speed for first runs, guarded space, a working emergency stop. proof: of this chart; made anew if
    none is given. log: a file that is written line by line as it goes (docs/run-log.md); told: each line;
    repeats: what is measured how often on the way. A chart of both hands at once is carried out so in a cell
    that can move both; in any other, or with repeats, it is proven a second time, one element after another,
    as it is then carried out. Raises MismatchError if the ledger is of another chart,
    NotProvenError, before anything moves, for a chart that contradicts itself or that the verifier finds
    wrong, OSError if the log cannot be written.
    """
    from handfast.execution.executor import execute
    from handfast.workflow.planned_anew import PlannedAnew

    must_fit(chart, ledger)
    must_hold(checked.project, chart, proof)
    apart = both_at_once(checked.project, chart.body, cell) if repeats is None else None
    if apart is None:
        must_hold_in_turn(checked.project, chart)
    head = LogHead(checked.project.name, sha256(chart), cell.name, 1, chart.seed)
    with RunFile(log, head) as file:
        found = execute(
            checked.project, chart.body, ledger.body, cell, chart_sha256=sha256(chart), recover=True,
            sink=file.sink(told), repeats=repeats, planner=PlannedAnew(checked.project, chart.seed),
            apart=apart,
        )  # fmt: skip
        file.end(found)
    return make_record(found, inputs_of(checked.project, chart, ledger), chart.seed)


def both_at_once(project: Project, chart: Chart, cell: Cell) -> AnyTiming | None:
    """What is certified of a chart's hands out of step; None where the chart, or the cell, has one arm move
    at a time."""
    from handfast.execution.two_hands import with_two_hands

    if in_turn(chart) is None or len(chart.hands) != 2 or with_two_hands(cell) is None:
        return None
    from handfast.proof.any_timing import AnyTiming

    found = AnyTiming(project, chart)
    found.ahead_of_time()
    return found


def must_hold_in_turn(project: Project, chart: Record[Chart]) -> None:
    """Raises NotProvenError for a chart of both hands at once that does not hold one element after another,
    which is how a cell carries it out that moves one arm at a time."""
    turns = in_turn(chart.body)
    if turns is None:
        return
    proof = verify(project, replace(chart, body=turns)).body
    if not proof.holds:
        first = proof.violations[0]
        raise NotProvenError(
            "this run carries out one element after another, and that way this chart of both hands at once "
            f"does not hold: {first.kind}: {first.text}; plan again without --together"
        )


def must_hold(project: Project, chart: Record[Chart], proof: Record[Proof] | None = None) -> Record[Proof]:
    """The proof of a chart. Raises NotProvenError unless it holds, and the chart's elements agree with each
    other."""
    from handfast.execution.rehearsal import in_order, ready_at, rehearse

    wrong = rehearse(project, chart.body, in_order(chart.body), ready_at(project, chart.body, 1))
    if wrong is not None:
        raise NotProvenError(f"element {wrong[0].number} ({wrong[0].id}): {wrong[1]}; plan again")
    usable = proof is not None and proof.body.chart_sha256 == sha256(chart)
    if proof is None or not usable or changed_files(project, proof):
        proof = verify(project, chart)
    if not proof.body.holds:
        first = proof.body.violations[0]
        raise NotProvenError(
            f"the chart does not hold, {len(proof.body.violations)} things are wrong with it; the first: "
            f"{first.kind}: {first.text}; plan again"
        )
    return proof


class RunFile:
    """The file that a run is written to, if any."""

    def __init__(self, path: str | Path | None, head: LogHead) -> None:
        self._lines = None if path is None else LineWriter(Path(path))
        self._writer = None if self._lines is None else RunLogWriter(self._lines, head)

    def __enter__(self) -> RunFile:
        return self

    def __exit__(self, *_: object) -> None:
        if self._lines is not None:
            self._lines.close()

    def sink(self, told: Told | None) -> Told:
        """What the executor tells each line."""

        def line(one: LogLine) -> None:
            if self._writer is not None:
                self._writer.line(one)
            if told is not None:
                told(one)

        return line

    def end(self, log: RunLog) -> None:
        """How it ended."""
        if self._writer is not None:
            self._writer.end(log)


def simulated_cell(checked: CheckedProject, chart: Record[Chart], *, seed: int = 0, number: int = 0) -> Cell:
    """A cell whose errors are drawn from the project's sources: the same as build `number` of a trial."""
    from handfast.kinematics.chain import load_chain
    from handfast.trials.draw import Draws
    from handfast.trials.two_hand_cell import TwoHandSimulatedCell

    project = checked.project
    chains = {arm.name: load_chain(arm, project.folder) for arm in project.cell.arms}
    grasps = tuple(dict.fromkeys(e.grasp for e in chart.body.elements if e.grasp is not None))
    return TwoHandSimulatedCell(project, chains, Draws(project.errors, seed, number), grasps)
