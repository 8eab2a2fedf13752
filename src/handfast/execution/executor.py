"""The one executor: steps a chart through a cell, whatever cell it is.

Elements run one after another in the order of their start times. Nothing is tried twice on its own account:
what fails is met by the recoveries that the element declares, each logged; where none is left the run stops,
with a cause and what a person must do.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import replace
from functools import cache, partial

import numpy as np

from handfast.execution.anew import Planner
from handfast.execution.arm_way import ArmWay
from handfast.execution.both_hands import Apart, BothHands, StoppedError
from handfast.execution.cell import Cell, CellError, ObstructedError
from handfast.execution.failure import FailureError
from handfast.execution.going import Going
from handfast.execution.hand_cell import HandCell
from handfast.execution.handling import go, grasp, grasp_again, release, still_held
from handfast.execution.joining import assemble, search, take_up_again, use
from handfast.execution.journal import Journal, Sink
from handfast.execution.looking import look
from handfast.execution.preconditions import broken
from handfast.execution.read_touches import read_touches
from handfast.execution.rehearsal import Ready, in_order, ready_at, rehearse
from handfast.execution.rejecting import AnotherError, reject
from handfast.execution.repeats import Repeats, before, before_all, behind
from handfast.execution.run_state import RunState
from handfast.execution.touching import locate, take_in, touch_again
from handfast.execution.two_hands import with_two_hands
from handfast.kinematics.chain import Chain, load_chain
from handfast.kinematics.forward import forward
from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.ledger import Ledger
from handfast.model.project import Project
from handfast.model.recovery import Recovery
from handfast.model.run_log import LogLine, RunLog
from handfast.proof.moved_motion import Surroundings, surroundings
from handfast.spatial import se3

_SAME = 1e-9  # [rad]
_PLAIN: dict[str, Callable[[RunState, Element], None]] = {
    "grasp": grasp, "release": release, "locate": locate, "assemble": assemble, "use": use, "reach": go,
    "move": go, "position": go, "search": go, "inspect": go,
}  # fmt: skip


def execute(
    project: Project,
    chart: Chart,
    ledger: Ledger | None,
    cell: Cell,
    *,
    touches: bool = True,
    chart_sha256: str = "",
    chains: dict[str, Chain] | None = None,
    around: Callable[[], Surroundings] | None = None,
    recover: bool = False,
    first: int = 1,
    stands: Mapping[str, tuple[float, ...]] | None = None,
    earlier: tuple[LogLine, ...] = (),
    sink: Sink | None = None,
    repeats: Repeats | None = None,
    planner: Planner | None = None,
    apart: Apart | None = None,
) -> RunLog:
    """Run the chart once and say what happened.

    ledger: tells what a touch corrects; without one, touches only measure. touches: False leaves the locate
    elements and their corrections out. chains: of the arms, and around: what they could meet, loaded from the
    project's folder if not given.
    recover: carry out the recoveries that elements declare, and ask again about unlikely touches; without
    it any failure stops the run. first: number of the element to begin with, everything standing as the
    chart has it by then. stands: where each arm is planned to stand by then (n,) [rad], if not as the
    chart has it; earlier: lines of the log of an earlier part of this run, whose touches are taken over.
    sink: told every line as it is written. planner: plans anew where a recovery asks for it; without one
    such recoveries are left out. apart: what is certified of both hands whatever their timing; with it,
    in a cell that can, both hands work at once as the chart has it, else one element is carried out after
    another. A chart whose elements contradict each other is refused before anything moves.
    """
    loaded = (
        chains if chains is not None else {a.name: load_chain(a, project.folder) for a in project.cell.arms}
    )
    ready = ready_at(project, chart, first)
    if stands is not None:
        ready = replace(ready, q={**ready.q, **stands})
    moving = with_two_hands(cell) if apart is not None and repeats is None and len(loaded) == 2 else None
    going: dict[str, Going] = {}
    hands = None if moving is None else HandCell(moving, going)
    cell = cell if hands is None else hands
    run = RunState(
        project=project, chart=chart, ledger=ledger, cell=cell, chains=loaded, going=going, hands=hands,
        journal=Journal(cell, chart_sha256, first=first, sink=sink), scene=ready.scene,
        ways={name: ArmWay(cell, name, chain) for name, chain in loaded.items()},
        planned={name: np.array(q) for name, q in ready.q.items()},
        around=cache(lambda: surroundings(project)) if around is None else around,
        planner=planner, strict=recover, holding=dict(ready.holding), done=ready.done,
    )  # fmt: skip
    steps = _Steps(run, touches, recover, stands is not None or first > 1, repeats, hands)
    if moving is not None and hands is not None and apart is not None:
        steps.both = BothHands(run, moving, hands, apart, steps.one)
    return steps.all(ready, earlier)


class _Steps:
    def __init__(
        self,
        run: RunState,
        touches: bool,
        recover: bool,
        goes_on: bool,
        repeats: Repeats | None,
        hands: HandCell | None,
    ) -> None:
        self._run, self._touches, self._recover, self._goes_on = run, touches, recover, goes_on
        self._hands = hands
        self.both: BothHands | None = None
        self._repeats = repeats
        self._rejected: Counter[str] = Counter()  # parts of each mate

    def all(self, ready: Ready, earlier: tuple[LogLine, ...]) -> RunLog:
        """Every element from the first in the order of its start; none if they contradict each other."""
        run = self._run
        elements = in_order(run.chart, run.journal.first)
        wrong = rehearse(run.project, run.chart, elements, ready, self._touches)
        if wrong is not None:
            return self._stopped(wrong[0], FailureError("chart", wrong[1], ""))
        if self._goes_on:
            try:
                _told(partial(take_over, run, earlier))
            except FailureError as failure:
                return self._stopped(elements[0], failure)
        if self._repeats is not None and elements:
            before_all(run, self._repeats, elements[0])
        left = deque(elements)
        if self.both is not None:
            working = tuple(e for e in elements if e.kind not in ("hold", "delay"))
            try:
                self.both.all(tuple(e for e in working if self._touches or e.kind != "locate"))
                return run.journal.ended()
            except AnotherError as another:
                left = deque(another.elements)  # one after another, as they were proven
            except StoppedError as stopped:
                return self._stopped(stopped.element, stopped.failure)
        while left:
            element = left.popleft()
            try:
                _told(partial(self.one, element))
            except AnotherError as another:
                left = deque(another.elements)
            except FailureError as failure:
                return self._stopped(element, failure)
        return run.journal.ended()

    def _stopped(self, element: Element, failure: FailureError) -> RunLog:
        # By its id: numbers of a chart that goes on in the middle are not those of the saved one.
        reason = f"element {element.id}: {failure}"
        with suppress(CellError):  # a cell that is lost does not say where it stands
            for hand in self._run.ways:
                self._run.journal.stands(element, hand)
        self._run.journal.add(element, "stop", {}, reason, cause=failure.cause)
        return self._run.journal.ended(reason, failure.cause)

    def one(self, element: Element) -> None:
        """Carry out one element. Raises FailureError, or AnotherError."""
        if element.kind == "locate" and not self._touches:
            return
        run = self._run
        missing = broken(element, run.scene, run.holding, run.done, run.project.product)
        if missing:
            raise FailureError("chart", missing)
        run.journal.note(element, "start")
        self._carried_out(element)
        if element.motions:
            run.planned[element.hand] = np.array(element.motions[-1].q[-1])
        run.journal.stands(element, element.hand, "done")

    def _carried_out(self, element: Element) -> None:
        """The element, and its recoveries as long as there are any left. Raises FailureError."""
        used = Counter({r: self._rejected[element.mate] for r in element.recoveries if r.do == "reject"})
        doing: Callable[[], None] = partial(self._plain, element)
        while True:
            try:
                _told(doing)
                return
            except FailureError as failure:
                self._run.journal.add(element, "failure", {}, str(failure), cause=failure.cause)
                recovery = self._next(element, failure, used)
                if self._hands is not None:
                    self._hands.alone()
                used[recovery] += 1
                what = f"{recovery.do}, {used[recovery]} of {recovery.times}"
                self._run.journal.add(element, "recovery", {}, what, cause=failure.cause)
                doing = self._again(element, recovery, used[recovery])

    def _plain(self, element: Element) -> None:
        if element.kind in ("hold", "delay"):  # the other hand works; this one stands
            return
        still_held(self._run, element)
        if self._repeats is not None:
            before(self._run, self._repeats, element)
        look(self._run, element)
        _PLAIN[element.kind](self._run, element)
        if self._repeats is not None:
            behind(self._run, self._repeats, element)

    def _next(self, element: Element, failure: FailureError, used: Counter[Recovery]) -> Recovery:
        """The recovery to carry out now. Raises FailureError where there is none."""
        if not self._recover:
            raise failure
        able = [r for r in element.recoveries if r.do != "reject" or self._may_begin_anew(element)]
        left = [r for r in able if r.cause == failure.cause and used[r] < r.times]
        if not left:
            raise failure
        if left[0].do == "stop":
            raise FailureError(failure.cause, failure.found, left[0].text or failure.remedy)
        return left[0]

    def _may_begin_anew(self, element: Element) -> bool:
        """Whether a mate can be begun anew: somebody plans, and the other hand has not gone on meanwhile to
        what comes after its beginning."""
        if self._run.planner is None or self.both is None:
            return self._run.planner is not None
        own = min(e.number for e in self._run.chart.elements if e.mate == element.mate)
        begun = {line.element for line in self._run.journal.lines if line.event == "start"}
        beyond = [e for e in self._run.chart.elements if e.number > own and e.mate != element.mate]
        return not any(e.id in begun for e in beyond)

    def _again(self, element: Element, recovery: Recovery, count: int) -> Callable[[], None]:
        run = self._run
        if recovery.do == "touch again":
            return lambda: touch_again(run, element)
        if recovery.do == "reject":
            self._rejected[element.mate] += 1
            return lambda: reject(run, element, recovery, self.one)
        if recovery.do == "search":
            return lambda: search(run, element, recovery, count)
        if element.kind == "use":
            return lambda: take_up_again(run, element)
        return lambda: grasp_again(run, element)


def take_over(run: RunState, earlier: tuple[LogLine, ...]) -> None:
    """A run that begins in the middle: how wide hands stand that hold something, how far arms stand off the
    plan, and what was touched before. Raises CellError."""
    for hand, way in run.ways.items():
        if hand in run.holding:
            run.widths[hand] = run.cell.state(hand).width
        here, planned = forward(way.chain, way.q)[0], forward(way.chain, run.planned[hand])[0]
        if np.abs(way.q - run.planned[hand]).max() > _SAME:
            way.shift = np.asarray(here @ se3.inverse(planned))
    if run.ledger is not None:
        run.touched = read_touches(run, earlier, run.journal.first)
        for element in run.chart.elements:
            if any(t.element == element.id for t in run.touched):
                take_in(run, element, run.ledger)


def _told(doing: Callable[[], None]) -> None:
    """What a cell cannot carry out is a failure too. Raises FailureError."""
    try:
        doing()
    except ObstructedError as error:
        raise FailureError(
            "obstructed", str(error),
            "look what stopped the arm: hoses, cables, parts that lie on its way; free it, then go on",
        ) from error  # fmt: skip
    except CellError as error:
        raise FailureError("cell", str(error)) from error
