"""A run that stopped: what must be where, the way back in or out, proven, and on."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from handfast.checking.checked_project import CheckedProject
from handfast.execution.cell import Cell
from handfast.execution.expected import Looked, looked
from handfast.execution.rehearsal import ready_at
from handfast.files.record_json import make_record, sha256
from handfast.files.run_log_file import LogHead, ReadLog, read_run_log
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.model.project import Project
from handfast.model.record import Record
from handfast.model.run_log import LogLine, RunLog
from handfast.planning.resumed import Resumed
from handfast.workflow.inputs import inputs_of
from handfast.workflow.make_trial import must_fit
from handfast.workflow.planned_anew import PlannedAnew, must_be_proven
from handfast.workflow.run_chart import RunFile, Told


@dataclass(frozen=True, slots=True)
class Stood:
    """Where hands stand, as the cell or a log says: q (n,) [rad], jaw width [m], by hand."""

    q: Mapping[str, tuple[float, ...]]
    widths: Mapping[str, float]


def what_must_be(
    checked: CheckedProject, chart: Record[Chart], cell: Cell, number: int
) -> tuple[Looked, ...]:
    """Every part and tool, where it should be before element `number`, and whether the cell finds it there.

    Raises KeyError if there is no such element.
    """
    from handfast.kinematics.chain import load_chain

    project = checked.project
    chart.body.element(number)
    chains = {a.name: load_chain(a, project.folder) for a in project.cell.arms}
    return looked(cell, project, ready_at(project, chart.body, number), chains)


def run_from(
    checked: CheckedProject,
    chart: Record[Chart],
    ledger: Record[Ledger],
    cell: Cell,
    number: int,
    *,
    earlier: tuple[LogLine, ...] = (),
    log: str | Path | None = None,
    told: Told | None = None,
    seed: int = 0,
) -> Record[RunLog]:
    """Go on with element `number` from where the arms stand; everything has to be where `what_must_be` says.

    The way in is planned and proven before anything moves. earlier: lines of the log before the stop, whose
    touches are taken over: those that what is left to do leans on have to be in it. Raises KeyError,
    NoWayError, NotProvenError, MismatchError.
    """
    from handfast.planning.resumed import NoWayError
    from handfast.planning.way_back import way_back

    must_fit(chart, ledger)
    stood = stands(checked.project, cell)
    resumed = way_back(checked.project, chart.body, number, stood.q, stood.widths, seed)
    untold = untold_touches(checked.project, chart.body, ledger.body, number, earlier)
    if untold:
        raise NoWayError(untold)
    must_be_proven(checked.project, resumed)
    head = LogHead(checked.project.name, sha256(chart), cell.name, number, chart.seed)
    found = _carried_out(checked.project, resumed, ledger.body, cell, head, earlier, RunFile(log, head), told)
    return make_record(
        replace(found, chart_sha256=sha256(chart)), inputs_of(checked.project, chart, ledger), chart.seed
    )


def undo(
    checked: CheckedProject,
    chart: Record[Chart],
    cell: Cell,
    number: int,
    *,
    log: str | Path | None = None,
    told: Told | None = None,
) -> tuple[RunLog, int]:
    """Lead the hand back out of element `number`, which failed, to where it stands clear; and the number of
    the element to go on with.

    Planned and proven before anything moves. Raises KeyError, NoWayError, NotProvenError.
    """
    from handfast.planning.way_out import way_out

    stood = stands(checked.project, cell)
    resumed, then = way_out(checked.project, chart.body, number, stood.q, stood.widths)
    must_be_proven(checked.project, resumed)
    head = LogHead(checked.project.name, sha256(chart), cell.name, number, chart.seed)
    return _carried_out(checked.project, resumed, None, cell, head, (), RunFile(log, head), told), then


def stands(project: Project, cell: Cell) -> Stood:
    """Where the cell says that its hands stand. Raises CellError."""
    states = {a.name: cell.state(a.name) for a in project.cell.arms}
    return Stood({n: s.q for n, s in states.items()}, {n: s.width for n, s in states.items()})


def stopped_at(checked: CheckedProject, lines: tuple[LogLine, ...]) -> Stood | None:
    """Where a log says that the hands stood last; None if it does not say so of every hand."""
    q, widths = {}, {}
    for line in lines:
        if line.event in ("done", "stands"):
            named = dict(line.values)
            widths[line.text] = named.get("width", 0.0)
            q[line.text] = tuple(v for k, v in line.values if k != "width")
    return Stood(q, widths) if all(a.name in q for a in checked.project.cell.arms) else None


def log_of(path: Path, chart: Record[Chart]) -> ReadLog | None:
    """The log in that file, if it is there and of a run of this chart. Raises RecordError."""
    found = read_run_log(path) if path.exists() else None
    return found if found is not None and found.head.chart_sha256 == sha256(chart) else None


def not_right(found: tuple[Looked, ...], seen: Collection[str]) -> str:
    """What stands in the way of going on, as a sentence for a person; "" if nothing does. seen: items that a
    person has looked at."""
    wrong = [f.item for f in found if f.right is False]
    unknown = [f.item for f in found if f.right is None and f.item not in seen]
    if wrong:
        return f"put right: {', '.join(wrong)}"
    return f"look at: {', '.join(unknown)}" if unknown else ""


def untold_touches(
    project: Project, chart: Chart, ledger: Ledger, number: int, earlier: tuple[LogLine, ...]
) -> str:
    """What a run that begins with element `number` would have to know of touches made before, and does not,
    as a sentence for a person; "" if it knows all."""
    told = {ln.element for ln in earlier if ln.event == "contact" and ln.value("met") == 1.0}
    done = ready_at(project, chart, number).done
    asked = {u.element: u.mate for u in ledger.updates if u.mate not in done}
    missing = [e for e in chart.elements if e.number < number and e.id in asked and e.id not in told]
    if not missing:
        return ""
    first, mates = missing[0], dict.fromkeys(u.mate for u in ledger.updates if u.mate not in done)
    touched = first.touch.part if first.touch is not None else first.object
    return (
        f"element {first.number} touches {touched}, and what that shows moves the targets of "
        f"{', '.join(mates)}; no log of this build says what it showed: begin with element {first.number} or "
        "an earlier one"
    )


def failed_at(chart: Chart, lines: tuple[LogLine, ...]) -> int:
    """The number of the last element that was begun and not done, or of the one behind the last that was
    done."""
    numbers = {e.id: e.number for e in chart.elements}
    done = [numbers[ln.element] for ln in lines if ln.event == "done" and ln.element in numbers]
    begun = [numbers[ln.element] for ln in lines if ln.event == "start" and ln.element in numbers]
    if begun and begun[-1] not in done:
        return begun[-1]
    return min((done[-1] if done else 0) + 1, len(chart.elements))


def _carried_out(
    project: Project,
    resumed: Resumed,
    ledger: Ledger | None,
    cell: Cell,
    head: LogHead,
    earlier: tuple[LogLine, ...],
    file: RunFile,
    told: Told | None,
) -> RunLog:
    from handfast.execution.executor import execute

    with file:
        found = execute(
            project, resumed.chart, ledger, cell, chart_sha256=head.chart_sha256, recover=True,
            first=resumed.first, stands=resumed.q, earlier=earlier, sink=file.sink(told),
            planner=PlannedAnew(project),
        )  # fmt: skip
        file.end(found)
    return found
