"""What a chart was planned from, told while it is still known."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator

from handfast.model.basis import Basis, Digests, Done, PlannedUnit
from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.planning.digests import digests
from handfast.planning.improve import Timed
from handfast.planning.master import Proposal
from handfast.planning.replay import after, during
from handfast.planning.search import keeps_tool
from handfast.planning.state import State
from handfast.planning.unit import Unit, units_of
from handfast.planning.workspace import Workspace

_STAND = ("shape", "tool", "holder", "obstacle", "arm", "place")
GAPS = ("hold", "delay")  # elements that come with the times


def basis_of(ws: Workspace, found: Timed, chart: Chart, together: bool) -> Basis:
    """The basis of a chart made of a timed sequence."""
    units = units_of(ws.project.product)
    by_name, proposal = {u.name: u for u in units}, Proposal(found.steps, 0)
    now, done = digests(ws.project, ws.demands), _in_order(found, chart)
    state, out, begin = ws.start(), [], 0
    for k, ((name, route), end) in enumerate(zip(found.steps, found.ends, strict=True)):
        own = found.leg.elements[begin:end]
        read, state = things_read(ws, by_name[name], own, state)
        keeps = keeps_tool(by_name, proposal, k)
        out.append(
            PlannedUnit(
                name, (route.kind, *route.hands), keeps, tuple(done[begin:end]),
                tuple((thing, now[thing]) for thing in read),
            )
        )  # fmt: skip
        begin = end
    rules = (("rules", now["rules"]),)
    stands = tuple((name, now[name]) for name in standing(now))
    return Basis(together, tuple(out), tuple(done[begin:]), stands, rules)


def standing(now: dict[str, str]) -> list[str]:
    """The names of what may be in the way of a motion, and of where it is."""
    return [name for name in sorted(now) if name.partition(" ")[0] in _STAND]


def _in_order(found: Timed, chart: Chart) -> list[Done]:
    """The chart's elements in the order in which they were planned: each hand does its own in that order."""
    own: dict[str, deque[Element]] = {hand: deque() for hand in chart.hands}
    for e in chart.elements:
        if e.kind not in GAPS:
            own[e.hand].append(e)
    return [Done(own[e.hand].popleft().number, e.before_s, e.duration_s) for e in found.leg.elements]


def things_read(
    ws: Workspace, unit: Unit, elements: tuple[Element, ...], before: State
) -> tuple[tuple[str, ...], State]:
    """The names of what planning the elements of a unit depended on, but for what stood by; and the state
    after them. before: them."""
    product, state = ws.project.product, before
    names = {f"mate {m.name}" for m in unit.mates} | set(_of_mates(unit))
    screws = {m.name for m in unit.mates}
    names |= {f"mate {m.name}" for m in product.mates if m.held_until in screws}
    if unit.pattern is not None:
        names.add(f"pattern {unit.pattern.name}")
    names |= set(_built_in_hand(ws, unit))
    handled = set(unit.parts) | {e.object for e in elements if e.object}
    for e in elements:
        state = during(state, e)
        handled |= {item for item, _ in ws.carried(state, e.hand)}
        names.add(f"arm {e.hand}")
        names |= set(_of_place(e.target))
        if e.touch is not None:
            names |= {f"shape {e.touch.part}", f"feature {e.touch.part}.{e.touch.feature}"}
        state = after(state, e)
    tools = {t.name for t in ws.project.cell.tools}
    names |= {f"{'tool' if item in tools else 'part'} {item}" for item in handled}
    for item in handled | {j for m in unit.mates for j in m.joined}:
        names |= set(carrying(before, item))
    return tuple(sorted(names)), state


def _of_mates(unit: Unit) -> Iterator[str]:
    """What the parts of a unit go to, by shape, and the features that say where."""
    for mate in unit.mates:
        yield from (f"shape {name}" for name in mate.joined)
        yield from (f"feature {p.fixed_part}.{p.fixed}" for p in mate.pairs)
        for part, face in mate.touches:
            yield from (f"shape {part}", f"feature {part}.{face}")
        yield from _of_place(mate.stands or "")


def _built_in_hand(ws: Workspace, unit: Unit) -> Iterator[str]:
    """Where a hand holds what is built on, all that goes into it there has a say in how."""
    where = unit.mates[0].stands or ""
    if where.startswith("hand."):
        yield f"arm {where.removeprefix('hand.')}"
        for mate in ws.project.product.mates:
            if mate.stands == where:
                yield from (f"mate {mate.name}", f"part {mate.part}", *(f"part {j}" for j in mate.joined))


def _of_place(target: str) -> Iterator[str]:
    if target.startswith("place."):
        yield target.replace(".", " ", 1)
        yield f"holder {target.split('.')[1]}"


def carrying(state: State, item: str) -> Iterator[str]:
    """What an item stands on, down to a place or a hand."""
    kind, _, name = state.scene.of(item).parent.partition(".")
    if kind in ("part", "tool"):
        yield f"shape {name}"
        yield from carrying(state, name)
    elif kind == "hand":
        yield f"arm {name}"
    else:
        yield from _of_place(f"place.{name}")


def changed(then: Digests, now: dict[str, str]) -> list[str]:
    """What is not as it was, or no longer there."""
    return [name for name, digest in then if now.get(name) != digest]
