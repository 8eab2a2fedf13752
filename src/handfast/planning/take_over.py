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
from handfast.planning.connect import connect
from handfast.planning.failure import Failure
from handfast.planning.leg import Leg
from handfast.planning.replay import after, during
from handfast.planning.retest import Differing, still_clear
from handfast.planning.state import State
from handfast.planning.stream import stream
from handfast.planning.workspace import Workspace, present

_SAME = 1e-9  # joints and poses that differ by less are the same [rad, m]
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
        self._now = now
        added = set(standing(self._now)) - {name for name, _ in basis.stands}
        self._stands = added | set(changed(basis.stands, self._now))
        by_number = {e.number: e for e in chart.elements}
        done = [u.done for u in basis.units] + [basis.way_home]
        self._elements = [tuple(_as_planned(by_number[d.number], d) for d in some) for some in done]
        start = ws.start()
        self._before = [State(chart.start, start.q, start.widths)]
        for some in self._elements:
            state = self._before[-1]
            for e in some:
                state = after(during(state, e), e)
            self._before.append(state)

    def unit(self, leg: Leg, k: int) -> Leg | None:
        """The leg with unit k done as it was, or None: it has to be planned."""
        unit = self._basis.units[k]
        why = self._why_anew(leg, k)
        found = None if why else self._replayed(leg, k, unit.name)
        if found is None:
            self.because[unit.name] = why or _TOO_NEAR
        return found

    def way_home(self, leg: Leg) -> Leg:
        """The leg with the hands sent home as they were, where that still does; else as it is."""
        return self._replayed(leg, len(self._basis.units), "") or leg

    def kept(self, leg: Leg) -> int:
        """How many elements of a leg are those of the chart."""
        old = {id(e) for some in self._elements for e in some}
        return sum(id(e) in old for e in leg.elements)

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
            if name not in present(leg.state) or not self._stands_as(before, leg.state, name):
                return f"{name} lies elsewhere"
        return ""

    def _stands_as(self, then: State, now: State, item: str) -> bool:
        """Whether an item stands where it did, through whatever it is attached to."""
        a, b = then.scene.of(item), now.scene.of(item)
        if a.parent != b.parent or np.abs(a.pose.matrix - b.pose.matrix).max() > _SAME:
            return False
        kind, _, name = a.parent.partition(".")
        if kind == "hand":
            return self._hand_as(then, now, name)
        if kind == "place":
            return f"place {name}" not in self._stands
        return f"tool {name}" not in self._stands and self._stands_as(then, now, name)

    def _hand_as(self, then: State, now: State, hand: str) -> bool:
        same = np.abs(then.q[hand] - now.q[hand]).max() <= _SAME and then.widths[hand] == now.widths[hand]
        return bool(same) and f"arm {hand}" not in self._stands

    def _replayed(self, leg: Leg, k: int, name: str) -> Leg | None:
        """The leg with the elements of a unit; None if one cannot be kept."""
        then, now = self._before[k], leg.state
        own: list[Element] = []
        for e in self._elements[k]:
            then, now = during(then, e), during(now, e)
            if then.widths[e.hand] != now.widths[e.hand]:
                return None
            motions = self._motions(then, now, e, name) if e.motions else ()
            if motions is None:
                return None
            same = motions == e.motions
            length = sum(m.duration for m in motions) - sum(m.duration for m in e.motions)
            own.append(e if same else replace(e, motions=motions, duration_s=e.duration_s + length))
            then, now = after(then, e), after(now, e)
        return leg.then(now, *own)

    def _motions(self, then: State, now: State, e: Element, name: str) -> tuple[Motion, ...] | None:
        """The motions of an element, free ways looked for anew where they have to be; None if that is not
        enough."""
        differing, state, out = self._differing(then, now, e.hand), now, []
        if differing is None:
            return None
        for old in e.motions:
            motion = old
            begins = np.abs(np.array(old.q[0]) - state.q[e.hand]).max() <= _SAME
            if not begins or (differing and not still_clear(self._ws, state, old, differing)):
                if old.path != "free":
                    return None
                seed = stream(self._seed, name)
                way = connect(self._ws, state, e.hand, np.array(old.q[-1]), seed)
                if isinstance(way, Failure):
                    return None
                motion = way
            out.append(motion)
            state = state.moved(e.hand, np.array(motion.q[-1]))
        return tuple(out)

    def _differing(self, then: State, now: State, hand: str) -> Differing | None:
        """What stands otherwise while a hand moves; None if that is something it carries."""
        carried = {item for item, _ in self._ws.carried(now, hand)}
        items = set()
        for item in present(now):
            if f"shape {item}" in self._stands:
                if item in carried:
                    return None
                items.add(item)
            elif item not in carried and (item not in present(then) or not self._stands_as(then, now, item)):
                items.add(item)
        fixed = {name for name in self._stands if name.startswith(("holder ", "obstacle "))}
        hands = {h for h in self._ws.hands if h != hand and not self._hand_as(then, now, h)}
        return Differing(frozenset(items), frozenset(fixed), frozenset(hands))


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
