"""Both hands at once: each begins an element when the other has come as far as the chart has it by then.

There is no common timetable, only the order of the chart: an element waits until the other hand has really
reached the instant at which the chart begins it. A hand that is late so delays the other instead of meeting
it. Hands may be apart by MARGIN, which the plan keeps clear either way. Beyond that they go on only where it
is certified that they cannot meet however they are timed: a hand stands and waits, or both move far from each
other. Where it is not, both arms are stopped at once.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from functools import partial
from typing import Protocol

import numpy as np

from handfast.execution.cell import CellError, ObstructedError
from handfast.execution.failure import FailureError
from handfast.execution.going import MARGIN, Going
from handfast.execution.hand_cell import ALONE, IN_STEP, HandCell
from handfast.execution.run_state import RunState
from handfast.execution.turns import Turn
from handfast.execution.two_hands import Ended, TwoHandCell
from handfast.model.element import Element

_TINY = 1e-5  # instants this close are one [s]
_LOOK = 0.02  # where both move and could meet out of step, they are looked at so often [s]
_LEAST = 1e-3  # nothing is looked at sooner again [s]
_LONG = 60.0  # nothing is waited for longer than this before looking again [s]
_WAITS = ("hold", "delay")


class Apart(Protocol):
    """What is certified of the two hands whatever their timing. Elements are named by number."""

    def moving(self, one: int, two: int) -> bool:
        """Whether two elements, of one hand each, cannot meet at whatever points of them the hands are."""
        ...

    def standing(self, after: int, two: int, late: bool) -> bool:
        """Whether the hand of an element, standing where it ends, cannot be met by another's before the chart
        has it stand there, or, late, after; after 0: standing where it starts from."""
        ...


class StoppedError(Exception):
    """The run has stopped at an element; both hands are at rest."""

    def __init__(self, element: Element, failure: FailureError) -> None:
        super().__init__(str(failure))
        self.element, self.failure = element, failure


class BothHands:
    """One run. one: carries out an element; apart: what is certified."""

    def __init__(
        self, run: RunState, cell: TwoHandCell, hands: HandCell, apart: Apart, one: Callable[[Element], None]
    ) -> None:
        self._run, self._cell, self._hands, self._apart, self._one = run, cell, hands, apart, one
        self._going = run.going
        self._left: dict[str, deque[Element]] = {}
        self._last: dict[str, Element | None] = {}
        self._idle: dict[str, float] = {}
        self._alone: str | None = None
        self._stop: StoppedError | None = None

    def all(self, elements: tuple[Element, ...]) -> None:
        """Carry them all out. Raises StoppedError; AnotherError where the run goes on with other elements."""
        clock = self._cell.clock()
        for hand in self._run.ways:
            self._left[hand] = deque(e for e in elements if e.hand == hand)
            self._last[hand], self._idle[hand] = None, clock
        self._run.left = self._left
        try:
            for hand in self._left:
                self._rests(hand)
            while any(self._left.values()) or self._going:
                self._step()
            if self._stop is not None:
                raise self._stop
        finally:
            for going in list(self._going.values()):
                going.turn.drop()
            self._going.clear()

    def _step(self) -> None:
        if self._stop is None and self._begin_next():
            return
        if not self._going:
            raise self._stop or self._cannot_begin()
        if self._alone is not None and len(self._going) == 1 and self._going[self._alone].stalled:
            hand, going = self._alone, self._going[self._alone]
            if going.waits:  # from here on it is in step, and the other may go on beside it
                self._alone = None
            going.stalled = going.waits = False
            self._go_on(hand)
            return
        if not self._safe():
            self._halt()
        for ended in self._cell.wait(self._patience()):
            self._answered(ended)

    # --- what may begin ---

    def _begin_next(self) -> bool:
        """Begin one element, if any may."""
        free = [h for h in self._left if h not in self._going and self._left[h]]
        for hand in sorted(free, key=lambda h: self._left[h][0].start_s):
            if self._alone in (None, hand) and self._may_begin(hand):
                self._begin(hand)
                return True
        return False

    def _may_begin(self, hand: str) -> bool:
        e, other = self._left[hand][0], self._other(hand)
        going = self._going.get(other)
        if going is not None:
            ahead = self._reached(going) - e.start_s
            if ahead < -_TINY or going.stalled:
                return False
            return max(ahead, going.slower()) <= MARGIN + _TINY or self._apart.moving(
                e.number, going.element.number
            )
        if self._left[other] and self._left[other][0].start_s < e.start_s - _TINY:
            return False
        last = self._last[other]
        return last is None or _end(last) <= e.start_s + MARGIN or self._stands(other, e, late=False)

    def _begin(self, hand: str) -> None:
        e, clock = self._left[hand].popleft(), self._cell.clock()
        last = self._last[hand]
        held = clock - self._idle[hand] - (e.start_s - (_end(last) if last is not None else 0.0))
        if last is not None and held > MARGIN:
            self._run.journal.note(e, "held", f"the {self._other(hand)} hand was late", seconds=held)
        for waited in (w for w in self._run.chart.elements if w.hand == hand and _ends_at(w, e)):
            self._run.journal.note(waited, "done", hand)
        self._going[hand] = Going(e, Turn(partial(self._one, e)), clock, since=clock)
        self._go_on(hand)

    def _cannot_begin(self) -> StoppedError:
        e = min((left[0] for left in self._left.values() if left), key=lambda e: e.start_s)
        other = self._other(e.hand)
        return StoppedError(
            e,
            FailureError(
                "out of step",
                f"the {other} hand has ended its own before this element began, and it is not certified that "
                f"the {e.hand} hand can pass where it stands",
                "lead both hands clear, then go on with this element",
            ),
        )

    # --- turns ---

    def _go_on(self, hand: str, answer: object = None, error: CellError | None = None) -> None:
        """An element runs on until it asks for something, or is over."""
        going = self._going[hand]
        self._hands.now = hand
        try:
            going.turn.go_on(answer, error)
        finally:
            self._hands.now = None
        if going.turn.over:
            self._over(hand, going)
        elif going.turn.asked is not None and going.turn.asked.name == ALONE:
            self._alone, going.stalled = hand, True
        elif going.turn.asked is not None and going.turn.asked.name == IN_STEP:
            beside = self._going.get(self._other(hand))
            if beside is None or self._apart.moving(going.element.number, beside.element.number):
                self._go_on(hand)
            else:
                self._alone, going.stalled, going.waits = hand, True, True
        elif going.turn.asked is not None:
            if "motion" in going.turn.asked.given:
                going.sets_off(going.turn.asked.given["motion"])
            self._cell.begin(hand, going.turn.asked.name, going.turn.asked.given)

    def _over(self, hand: str, going: Going) -> None:
        del self._going[hand]
        self._last[hand], self._idle[hand] = going.element, self._cell.clock()
        if self._alone == hand:
            self._alone = None
        failed = going.turn.failed
        if isinstance(failed, FailureError):
            self._stop = self._stop or StoppedError(going.element, failed)
        elif failed is not None:
            raise failed  # AnotherError, and what nobody expects
        elif self._stop is None:
            self._rests(hand)

    def _rests(self, hand: str) -> None:
        """The hand stands; a hold or a delay of the chart, if it has one here, begins."""
        e = self._left[hand][0] if self._left[hand] else None
        for waits in self._run.chart.elements:
            if waits.hand == hand and waits.kind in _WAITS and e is not None and _ends_at(waits, e):
                self._run.journal.note(waits, "start")

    def _answered(self, ended: Ended) -> None:
        error: CellError | None = None
        if ended.error:
            error = (ObstructedError if ended.kind == "obstructed" else CellError)(ended.error)
        self._going[ended.arm].arrives(self._cell.clock())
        self._go_on(ended.arm, ended.result, error)

    def _reached(self, going: Going) -> float:
        """Which instant of the chart a hand has come to [s]."""
        hand = going.element.hand
        q = np.array(self._cell.state(hand).q) if going.on is not None else None
        return going.reached(self._cell.clock(), q)

    # --- out of step ---

    def _safe(self) -> bool:
        """Whether the hands are in step, or certified not to meet out of it."""
        (one, two) = self._left
        a, b = self._going.get(one), self._going.get(two)
        if a is not None and b is not None:
            if a.waits or b.waits:
                return self._stands(one, b.element, True) if a.waits else self._stands(two, a.element, True)
            if not (a.stalled or b.stalled) and abs(self._reached(a) - self._reached(b)) <= MARGIN + _TINY:
                return True
            return self._apart.moving(a.element.number, b.element.number)
        hand, going = next((h, g) for h, g in self._going.items())
        other, now = self._other(hand), self._reached(going)
        if self._stop is not None:  # it stands somewhere in the element that failed
            return self._apart.moving(self._stop.element.number, going.element.number)
        last, left = self._last[other], self._left[other]
        early = _end(last) - now if last is not None else 0.0
        late = now - left[0].start_s if left else 0.0
        if early > MARGIN + _TINY and not self._stands(other, going.element, late=False):
            return False
        return late <= MARGIN + _TINY or self._stands(other, going.element, late=True)

    def _stands(self, hand: str, e: Element, late: bool) -> bool:
        last = self._last[hand]
        return self._apart.standing(0 if last is None else last.number, e.number, late)

    def _halt(self) -> None:
        """Both arms stop where they are. Raises StoppedError."""
        self._cell.halt()
        late = min(self._going.values(), key=self._reached).element
        idle = [left[0] for hand, left in self._left.items() if left and hand not in self._going]
        late = min([late, *idle], key=lambda e: e.start_s)
        failure = FailureError(
            "out of step",
            f"the {late.hand} hand is more than {MARGIN:g} s behind the other, and it is not certified that "
            "they cannot meet so; both arms were stopped where they are",
            f"look why the {late.hand} hand is late (its speed override, a jam, a slow gripper), lead both "
            "hands clear, then go on",
        )
        self._run.journal.add(late, "halt", {}, str(failure), cause=failure.cause)
        raise self._stop or StoppedError(late, failure)

    def _patience(self) -> float:
        """How long nothing can change but by what the cell tells [s]."""
        soon = [_LONG]
        for hand, going in self._going.items():
            now, other = self._reached(going), self._other(hand)
            if other not in self._going and self._left[other]:
                soon += [self._left[other][0].start_s - now, self._left[other][0].start_s + MARGIN - now]
            if other in self._going and not self._apart.moving(
                going.element.number, self._going[other].element.number
            ):
                soon.append(_LOOK)
        return max(min(s for s in soon if s > _TINY), _LEAST) + 2 * _TINY

    def _other(self, hand: str) -> str:
        return next(h for h in self._left if h != hand)


def _end(e: Element) -> float:
    return e.start_s + e.duration_s


def _ends_at(waits: Element, e: Element) -> bool:
    """Whether a hold or delay leads up to an element."""
    return waits.kind in _WAITS and abs(_end(waits) - e.start_s) <= _TINY
