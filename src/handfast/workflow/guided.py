"""Measurements that need no chart: a person sets something up, arms touch it, and a log is written."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TypeVar

from handfast.checking.checked_project import CheckedProject
from handfast.execution.ball_round import BallPlanner
from handfast.execution.cell import Cell
from handfast.execution.journal import Journal
from handfast.execution.person import Person
from handfast.execution.touch_artefact import Asked, touch_artefact
from handfast.files.record_json import make_record
from handfast.files.run_log_file import LogHead
from handfast.files.typed_json import to_json
from handfast.kinematics.chain import Chain
from handfast.model.artefact import Artefact
from handfast.model.cell import Cell as CellModel
from handfast.model.named import find
from handfast.model.project import Project
from handfast.model.record import Record
from handfast.model.run_log import RunLog
from handfast.model.tool import HANDLE_FRICTION
from handfast.workflow.inputs import inputs_of
from handfast.workflow.run_chart import RunFile, Told

GUIDED = "cell "
"""How the name begins under which a guided log keeps what it was made in."""


A = TypeVar("A")
Routine = Callable[[Project, Cell, dict[str, Chain], BallPlanner, Person, Journal, A], RunLog]
"""What is carried out in a cell as `A` asks."""


class NoArtefactError(Exception):
    """Nothing is declared that could be touched; the message says what to write."""


def cell_key(project: Project) -> str:
    """What a guided log is kept under instead of a chart: the cell as it is written now."""
    text = json.dumps(to_json(project.cell, CellModel), sort_keys=True)
    return GUIDED + hashlib.sha256(text.encode()).hexdigest()


def touch_with_both(
    checked: CheckedProject,
    cell: Cell,
    person: Person,
    *,
    artefact: str = "",
    stands: Sequence[str] = (),
    repeats: int = 3,
    log: str | Path | None = None,
    told: Told | None = None,
    seed: int = 0,
) -> Record[RunLog]:
    """Every arm touches the ball of an artefact on one stand after another, as a person sets it down.

    A cell that is a real machine moves: see `run`. artefact, stands: by name, the first and all of them if
    not given; repeats: of each touch. Each way is planned and proven before it is gone. What was measured
    before a stop is in the log. Raises NoArtefactError, KeyError for a name that there is not, OSError.
    """
    chosen = the_artefact(checked.project, artefact)
    asked = Asked(chosen, tuple(chosen.stand(name) for name in stands) or chosen.stands, repeats)
    return _logged(checked, cell, person, touch_artefact, asked, log, told, seed)


def turn_tools(
    checked: CheckedProject,
    cell: Cell,
    person: Person,
    *,
    artefact: str = "",
    stand: str = "",
    log: str | Path | None = None,
    told: Told | None = None,
    seed: int = 0,
) -> Record[RunLog]:
    """Each tool of the cell touches the ball of an artefact with its bit while its spindle is turned step by
    step: its runout.

    artefact, stand: by name, the first if not given; for the rest as `touch_with_both`.
    """
    from handfast.execution.turn_bit import Turning, turn_bits

    chosen = the_artefact(checked.project, artefact)
    at = chosen.stand(stand) if stand else chosen.stands[0]
    asked = Turning(chosen, at, checked.project.cell.tools)
    return _logged(checked, cell, person, turn_bits, asked, log, told, seed)


def _logged(
    checked: CheckedProject, cell: Cell, person: Person, routine: Routine[A], asked: A,
    log: str | Path | None, told: Told | None, seed: int,
) -> Record[RunLog]:  # fmt: skip
    """A routine carried out, each line of its log written as it comes."""
    from handfast.kinematics.chain import load_chain
    from handfast.workflow.planned_rounds import PlannedRounds

    project = checked.project
    chains = {arm.name: load_chain(arm, project.folder) for arm in project.cell.arms}
    head = LogHead(project.name, cell_key(project), cell.name, 1, seed)
    with RunFile(log, head) as file:
        journal = Journal(cell, head.chart_sha256, sink=file.sink(told))
        found = routine(project, cell, chains, PlannedRounds(project, seed), person, journal, asked)
        file.end(found)
    return make_record(found, inputs_of(project), seed)


def the_artefact(project: Project, name: str = "") -> Artefact:
    """The one of that name, or the first. Raises NoArtefactError, KeyError."""
    if not project.cell.artefacts:
        raise NoArtefactError(
            "cell.yaml declares no artefact for the arms to touch; write one under `artefacts:` "
            "(docs/commissioning.md)"
        )
    return find(project.cell.artefacts, name, "artefact") if name else project.cell.artefacts[0]


def empty_cell(checked: CheckedProject, seed: int = 0) -> Cell:
    """A simulated cell, everything in its place, for which no chart is needed: its jaws close on tools or on
    nothing."""
    from handfast.kinematics.chain import load_chain
    from handfast.mates.grasps import grasps
    from handfast.trials.draw import Draws
    from handfast.trials.simulated_cell import SimulatedCell

    project = checked.project
    chains = {arm.name: load_chain(arm, project.folder) for arm in project.cell.arms}
    held = tuple(
        grasp
        for gripper in project.cell.grippers
        for tool in project.cell.tools
        for grasp in grasps(gripper, tool.name, tool.features, tool.mass, HANDLE_FRICTION)
    )
    return SimulatedCell(project, chains, Draws(project.errors, seed, 0), held)
