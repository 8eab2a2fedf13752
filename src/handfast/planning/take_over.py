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
from handfast.planning.basis import changed, standing
from handfast.planning.comparison import Comparison, same_joints
from handfast.planning.connect import connect
from handfast.planning.effort import Effort
from handfast.planning.leg import Leg
from handfast.planning.old_choices import OldChoices
from handfast.planning.replay import after, during
from handfast.planning.retest import still_clear
from handfast.planning.state import State
from handfast.planning.stream import stream
from handfast.planning.workspace import Workspace

_TOO_NEAR = "a motion comes too near what changed"
TRIES = 300  # for one unit that is planned anew; those that are found at all take 200, but for a few
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
        self._now = now
        added = set(standing(self._now)) - {name for name, _ in basis.stands}
        self._comparison = Comparison(ws, added | set(changed(basis.stands, self._now)))
        by_number = {e.number: e for e in chart.elements}
        done = [u.done for u in basis.units] + [basis.way_home]
        self._elements = [tuple(_as_planned(by_number[d.number], d) for d in some) for some in done]
        self.effort = Effort(TRIES)
        self.old = OldChoices(ws.hands, self._comparison.differing)
        start = ws.start()
        state = State(chart.start, start.q, start.widths)
        self._before, self._during = (
            list[State](),
            list[list[State]](),
        )  # of units; of elements
        for some in self._elements:
            self._before.append(state)
            self._during.append([])
            for e in some:
                self._during[-1].append(during(state, e))
                state = after(self._during[-1][-1], e)
        self._before.append(state)

    def unit(self, leg: Leg, k: int) -> Leg | None:
        """The leg with unit k done as it was, or None: it has to be planned."""
        unit = self._basis.units[k]
        why = self._why_anew(leg, k)
        found = None if why else self._replayed(leg, k, unit.name)
        if found is None:
            if unit.name not in self.because:  # else it is tried again, what is held otherwise
                self.effort.renew()
            self.because[unit.name] = why or _TOO_NEAR
            self.old.of(self._elements[k], self._during[k])
        return found

    def way_home(self, leg: Leg) -> Leg:
        """The leg with the hands sent home as they were, where that still does; else as it is."""
        return self._replayed(leg, len(self._basis.units), "") or leg

    def kept(self, leg: Leg) -> int:
        """How many elements of a leg are those of the chart."""
        old = {id(e) for some in self._elements for e in some}
        return sum(id(e) in old for e in leg.elements)

    def alike(self, leg: Leg) -> int:
        """How many others are as one of the chart was, though they were planned anew."""
        by_work: dict[tuple[str, ...], list[Element]] = {}
        for e in (e for some in self._elements for e in some):
            by_work.setdefault(_work(e), []).append(e)
        return sum(e in by_work.get(_work(e), ()) for e in leg.elements) - self.kept(leg)

    def _why_anew(self, leg: Leg, k: int) -> str:
        """What a unit depends on that is not as it was, in words; "" if all is."""
        unit, before = self._basis.units[k], self._before[k]
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
        now, own = leg.state, list[Element]()
        known = self._before[k] if self._comparison.same(self._before[k], now) else None
        for e, then in zip(self._elements[k], self._during[k], strict=True):
            now = then if known is not None else during(now, e)
            if then.widths[e.hand] != now.widths[e.hand]:
                return None
            motions = self._motions(then, now, e, name) if e.motions else ()
            if motions is None:
                return None
            own.append(_with_motions(e, motions))
            if own[-1] is not e:
                known = None
            if known is None:
                now = after(now, own[-1])
        return leg.then(now if known is None else self._before[k + 1], *own)

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


def _work(e: Element) -> tuple[str, ...]:
    return e.mate, e.hand, e.kind, e.object, e.target


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
