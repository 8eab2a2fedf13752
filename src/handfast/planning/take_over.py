"""Units of an earlier chart taken over as they stand, where nothing that they depend on has changed.

A unit is planned anew if anything that its planning read has another digest, or if what it handles does not
stand where it did. Else its motions are tested again against whatever else differs: a free way that is no
longer clear, or that begins elsewhere, is looked for anew; where a line is no longer clear, the unit is
planned anew.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from handfast.model.basis import Basis, Done, PlannedUnit
from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.motion import Motion
from handfast.planning.basis import carrying, changed, standing
from handfast.planning.comparison import Comparison, same_joints
from handfast.planning.connect import connect, roomy
from handfast.planning.leg import Leg
from handfast.planning.replay import after, during
from handfast.planning.retest import still_clear
from handfast.planning.state import State
from handfast.planning.stream import stream
from handfast.planning.workspace import Workspace

_TOO_NEAR = "a motion comes too near what changed"
_ITEMS = ("part ", "tool ", "shape ")


class TakeOver:
    """What an earlier chart offers for the units of a plan that follows the same sequence."""

    def __init__(
        self,
        ws: Workspace,
        chart: Chart,
        basis: Basis,
        now: dict[str, str],
        keeps: tuple[bool, ...],
        seed: int,
    ) -> None:
        """now: digests of the project as it is; keeps: whether each unit now keeps its tool for the next."""
        self._ws, self._basis, self._keeps, self._seed = ws, basis, keeps, seed
        self.because: dict[str, str] = {}
        self._at = 0  # the unit that is planned anew
        self._now = now
        added = set(standing(self._now)) - {name for name, _ in basis.stands}
        self._comparison = Comparison(ws, added | set(changed(basis.stands, self._now)))
        by_number = {e.number: e for e in chart.elements}
        done = [u.done for u in basis.units] + [basis.way_home]
        self._elements = [tuple(_as_planned(by_number[d.number], d) for d in some) for some in done]
        start = ws.start()
        state = State(chart.start, start.q, start.widths)
        self._states: list[list[State]] = []  # before each element of each unit
        for some in self._elements:
            self._states.append([])
            for e in some:
                self._states[-1].append(state)
                state = after(during(state, e), e)
        self._states[-1].append(state)

    def unit(self, leg: Leg, k: int) -> Leg | None:
        """The leg with unit k done as it was, or None: it has to be planned."""
        unit = self._basis.units[k]
        why = self._why_anew(leg, k)
        found = None if why else self._replayed(leg, k, unit.name)
        if found is None:
            self.because[unit.name], self._at = why or _TOO_NEAR, k
        return found

    def taken_up(self, leg: Leg, hand: str, item: str) -> Leg | None:
        """The leg with an item taken up as it was in the unit that is planned anew, its lift pending; None if
        that does not depend on the same things any more."""
        elements = self._elements[self._at]
        last = next((i for i, e in enumerate(elements) if e.hand == hand and _takes(e, item)), None)
        if last is None or last + 1 == len(elements):
            return None
        first = last - (1 if elements[last].kind == "grasp" else 2)
        state = self._states[self._at][first]
        piece, lift = elements[first : last + 1], elements[last + 1].motions[:1]
        if any(e.hand != hand for e in (*piece, elements[last + 1])) or not self._still_so(state, leg, piece):
            return None
        return self._piece(state, leg, piece, lift)

    def _still_so(self, then: State, leg: Leg, piece: tuple[Element, ...]) -> bool:
        """Whether what some elements handle, and what that lies on or hangs in, is as it was."""
        then_read, ws = dict(self._basis.units[self._at].read), self._ws
        tools = {t.name for t in ws.project.cell.tools}
        handled = {e.object for e in piece}
        names = {f"{'tool' if item in tools else 'part'} {item}" for item in handled}
        names |= {name for item in handled for name in carrying(then, item)} | {f"arm {piece[0].hand}"}
        lies = [i for i in handled if not then.parents[i].startswith("hand.")]
        return all(then_read.get(name, "") == self._now.get(name) for name in names) and all(
            self._comparison.stands_as(then, leg.state, item) for item in lies
        )

    def _piece(
        self, then: State, leg: Leg, piece: tuple[Element, ...], lift: tuple[Motion, ...]
    ) -> Leg | None:
        now, own, pending = leg.state, list[Element](), leg.pending
        hand = piece[0].hand
        for e in piece:
            then, now = during(then, e), during(now, e)
            carried = e.motions[1:] if e.motions and e.motions[0].path == "line" and pending else e.motions
            motions = self._motions(then, now, replace(e, motions=carried), piece[0].mate)
            if motions is None or then.widths[hand] != now.widths[hand]:
                return None
            own.append(_with_motions(e, (*pending, *motions)))
            pending = ()
            then, now = after(then, e), after(now, e)
        up = self._motions(then, now, replace(piece[0], motions=lift), piece[0].mate)
        if up != lift or lift[0].path != "line":
            return None
        now = now.moved(hand, np.array(lift[0].q[-1]))
        if roomy(self._ws, now, hand, now.q[hand]) is not None:
            return None
        return leg.then(now, *own, pending=lift)

    def way_home(self, leg: Leg) -> Leg:
        """The leg with the hands sent home as they were, where that still does; else as it is."""
        return self._replayed(leg, len(self._basis.units), "") or leg

    def kept(self, leg: Leg) -> int:
        """How many elements of a leg are those of the chart."""
        old = {id(e) for some in self._elements for e in some}
        return sum(id(e) in old for e in leg.elements)

    def _why_anew(self, leg: Leg, k: int) -> str:
        """What a unit depends on that is not as it was, in words; "" if all is."""
        unit, before = self._basis.units[k], self._states[k][0]
        if leg.pending:
            return "a motion is left over from before it"
        if unit.keeps_tool != self._keeps[k]:
            return "the tool goes another way"
        names = changed(unit.read, self._now)
        if names:
            return f"{_listed(names)} changed"
        for name in _items_read(unit):
            if name not in leg.state.parents or not self._comparison.stands_as(before, leg.state, name):
                return f"{name} lies elsewhere"
        return ""

    def _replayed(self, leg: Leg, k: int, name: str) -> Leg | None:
        """The leg with the elements of a unit; None if one cannot be kept."""
        then, now = self._states[k][0], leg.state
        own: list[Element] = []
        for e in self._elements[k]:
            then, now = during(then, e), during(now, e)
            if then.widths[e.hand] != now.widths[e.hand]:
                return None
            motions = self._motions(then, now, e, name) if e.motions else ()
            if motions is None:
                return None
            own.append(_with_motions(e, motions))
            then, now = after(then, e), after(now, e)
        return leg.then(now, *own)

    def _motions(self, then: State, now: State, e: Element, name: str) -> tuple[Motion, ...] | None:
        """The motions of an element, free ways looked for anew where they have to be; None if that is not
        enough."""
        differing, out = self._comparison.differing(then, now, e.hand), list[Motion]()
        if differing is None:
            return None
        q = now.q[e.hand]
        for old in e.motions:
            begin, end = np.array(old.q[0]), np.array(old.q[-1])
            if same_joints(begin, q) and (not differing or still_clear(self._ws, now, old, differing)):
                out.append(old)
            else:
                free = old.path == "free"
                seed = stream(self._seed, name)
                way = connect(self._ws, now.moved(e.hand, q), e.hand, end, seed) if free else None
                if not isinstance(way, Motion):
                    return None
                out.append(way)
            q = end
        return tuple(out)


def _takes(e: Element, item: str) -> bool:
    """Whether an item is in the hand, or on its tool, from this element on."""
    on_tool = e.kind == "use" and e.leaves is not None and e.leaves.parent.startswith("tool.")
    return e.object == item and (on_tool or e.kind == "grasp")


def _with_motions(e: Element, motions: tuple[Motion, ...]) -> Element:
    """The element itself if its motions are those."""
    if motions == e.motions:
        return e
    longer = sum(m.duration for m in motions) - sum(m.duration for m in e.motions)
    return replace(e, motions=motions, duration_s=e.duration_s + longer)


def _as_planned(e: Element, done: Done) -> Element:
    """An element of a chart as it was before it got its place in time."""
    return replace(
        e, id="", number=0, start_s=0.0, before_s=done.before_s, duration_s=done.duration_s, cause="",
        recoveries=(), waits_for="", until="",
    )  # fmt: skip


def _listed(names: list[str]) -> str:
    """Names of one kind behind it; what goes with a thing that is named already is left out."""
    kinds: dict[str, list[str]] = {}
    for kind, _, name in (n.partition(" ") for n in names):
        kinds.setdefault(kind, []).append(name)
    whole = {*kinds.get("part", ()), *kinds.get("tool", ())}
    kinds["shape"] = [name for name in kinds.get("shape", ()) if name not in whole]
    kinds["feature"] = [name for name in kinds.get("feature", ()) if name.split(".")[0] not in whole]
    holders = kinds.get("holder", ())
    kinds["place"] = [name for name in kinds.get("place", ()) if name.split(".")[0] not in holders]
    return "; ".join(f"{kind} {', '.join(some)}" for kind, some in kinds.items() if some)


def _items_read(unit: PlannedUnit) -> Iterator[str]:
    named = {name.partition(" ")[2] for name, _ in unit.read if name.startswith(_ITEMS)}
    yield from sorted(named)
