"""The search: the master proposes, geometry answers, explained failures come back as clauses."""

from __future__ import annotations

from collections.abc import Callable, Container, Iterator
from dataclasses import dataclass

import numpy as np

from handfast.planning.clause import Clause
from handfast.planning.conflicts import more_causes
from handfast.planning.connect import connect
from handfast.planning.explain import MANY, explain, lasting, never
from handfast.planning.failure import Failure
from handfast.planning.leg import Leg, element
from handfast.planning.master import Proposal, propose
from handfast.planning.no_hold import no_hold
from handfast.planning.realise import realise
from handfast.planning.route import Route
from handfast.planning.shut_in import shut_in
from handfast.planning.stream import stream
from handfast.planning.stuck import Step, Stuck, Tried, no_sequence
from handfast.planning.too_far import too_far
from handfast.planning.tool_hands import by_reach
from handfast.planning.unit import Unit, retained_by, routes_of, units_of
from handfast.planning.workspace import Workspace

Progress = Callable[[str, int, int], None]
TakenOver = Callable[[Leg, int], Leg | None]
_OF_ONE_GRASP = 2


@dataclass(frozen=True, eq=False, slots=True)
class Found:
    """A complete sequence: its leg, the proposal it realises, and what was learned on the way."""

    leg: Leg
    proposal: Proposal
    tried: Tried


def search(
    ws: Workspace,
    *,
    seed: int,
    progress: Progress | None = None,
    known: Tried | None = None,
    first: tuple[Step, ...] | None = None,
) -> Found | Stuck:
    """The cheapest order and routes that geometry agrees to, or why there are none. known: what was learned
    before, of which what was proven still holds; first: a sequence that is taken if it works."""
    product = ws.project.product
    units = units_of(product)
    set_downs = any(h.kind == "set-down" for h in ws.project.cell.holders)
    routes = {u.name: by_reach(ws, u, routes_of(u, tuple(ws.hands), set_downs)) for u in units}
    tried = Tried(Leg(ws.start()))
    for told in (no_hold, too_far, shut_in):
        clauses, failures = told(ws, units, routes)
        tried.clauses += [c for c in clauses if c not in tried.clauses]
        tried.failures |= failures
    if known is not None:
        tried.clauses += [c for c in known.clauses if c.proven and c not in tried.clauses]
        tried.failures = known.failures | tried.failures
    if first is not None:
        given = Proposal(first, 0)
        leg = follow(ws, units, given, tried, seed, progress)
        if leg is not None:
            return Found(leg, given, tried)
    for _ in range(ws.caps.rounds):
        proposal = propose(units, routes, tuple(tried.clauses), product.order_given)
        if proposal is None:
            return no_sequence(ws, units, routes, tried)
        leg = follow(ws, units, proposal, tried, seed, progress)
        if leg is not None:
            return Found(leg, proposal, tried)
    return no_sequence(ws, units, routes, tried, ran_out=True)


def follow(
    ws: Workspace,
    units: tuple[Unit, ...],
    proposal: Proposal,
    tried: Tried,
    seed: int,
    progress: Progress | None,
    taken_over: TakenOver | None = None,
) -> Leg | None:
    """Carry a proposal out as far as it goes; a failure adds a clause, or another grasp for a part that is
    being held. taken_over: the leg after a step that need not be planned, from that before it; None if it
    must be; then no other proposal is made, and why this one fails is not looked into further."""
    by_name = {u.name: u for u in units}
    leg = tried.start
    i = 0
    while i < len(proposal.steps):
        steps = proposal.steps[: i + 1]
        name, route = steps[-1]
        if steps not in tried.legs:
            tried.failures[steps[-1]] = []
            keeps, spent = keeps_tool(by_name, proposal, i), tried.spent.setdefault(steps, set())
            tried.others[steps] = _attempts(ws, leg, by_name[name], route, keeps, seed, spent, units)
            old = None if taken_over is None else taken_over(leg, i)
            if old is not None:
                tried.legs[steps], leg, i = old, old, i + 1
                continue
            if progress is not None:
                progress(name, i, len(units))
            ended = _next(tried, steps)
            if ended is None:
                certain = _never(ws, leg, by_name[name], route, units, tried)
                back = None if certain else _regrasp(ws, tried, by_name, steps, units)
                if back is None and taken_over is None:
                    _learn(ws, leg, by_name[name], route, steps, units, tried)
                if back is None:
                    return None
                i, leg = back, tried.legs[proposal.steps[:back]]
                continue
        leg = tried.legs[steps]
        i += 1
    return leg


def _never(
    ws: Workspace, leg: Leg, unit: Unit, route: Route, units: tuple[Unit, ...], tried: Tried
) -> tuple[Failure, ...]:
    """Why a step never works, whatever is done before and however anything is held; nothing if it might."""
    step = (unit.name, route)
    if step not in tried.never:
        found = tried.failures.get(step, [])
        lasts = lasting(ws, leg, unit, units, found)
        tried.never[step] = tuple(found) if lasts else never(ws, leg, unit, route, units)
    return tried.never[step]


def _next(tried: Tried, steps: tuple[Step, ...]) -> Leg | None:
    """The next leg that does the last step; its failures are kept."""
    for result in tried.others[steps]:
        if isinstance(result, Leg):
            tried.legs[steps] = result
            return result
        tried.failures[steps[-1]].append(result)
    return None


def _regrasp(
    ws: Workspace,
    tried: Tried,
    by_name: dict[str, Unit],
    steps: tuple[Step, ...],
    units: tuple[Unit, ...],
) -> int | None:
    """If a part is being held at the failed step, hold it another way: the number of steps that then stand,
    or None."""
    names = [n for n, _ in steps[:-1]]
    for k in reversed(range(len(names))):
        until = retained_by(by_name[names[k]], units)
        takes_up = (by_name[names[k]].mates[0].stands or "").startswith("hand.") and not any(
            by_name[n].mates[0].stands == by_name[names[k]].mates[0].stands for n in names[:k]
        )
        if takes_up or (until is not None and until not in names):
            prefix = steps[: k + 1]
            if _held_otherwise(ws, tried, prefix, by_name[names[k]]):
                for key in [key for key in tried.legs if len(key) > k + 1 and key[: k + 1] == prefix]:
                    del tried.legs[key]
                return k + 1
    return None


def _held_otherwise(ws: Workspace, tried: Tried, prefix: tuple[Step, ...], unit: Unit) -> bool:
    """Whether another way to do the last step was found that holds the part by another grasp, or by the same
    one with the arm standing otherwise: of each grasp so many are looked at, since they rarely differ in what
    they leave free."""
    known = tried.regrasps.setdefault(prefix, [])
    if not known:
        known.append(_grasp_of(tried.legs[prefix], unit))
    spent = tried.spent.setdefault(prefix, set())
    while len(known) <= ws.caps.regrasps:
        spent |= {g for g in known if known.count(g) == _OF_ONE_GRASP}
        leg = _next(tried, prefix)
        if leg is None:
            return False
        grasp = _grasp_of(leg, unit)
        if known.count(grasp) < _OF_ONE_GRASP:
            known.append(grasp)
            return True
    return False


def _grasp_of(leg: Leg, unit: Unit) -> object:
    """How the unit's part was last grasped; or, where a hand holds what it is built on, how that stands."""
    where = unit.mates[0].stands or ""
    if where.startswith("hand."):
        return tuple(leg.state.q[where.removeprefix("hand.")].round(3))
    grasps = [e.grasp for e in leg.elements if e.kind == "grasp" and e.object == unit.parts[0]]
    return grasps[-1] if grasps else None


def _learn(
    ws: Workspace,
    leg: Leg,
    unit: Unit,
    route: Route,
    steps: tuple[Step, ...],
    units: tuple[Unit, ...],
    tried: Tried,
) -> None:
    done = frozenset(n for n, _ in steps[:-1])
    never = _never(ws, leg, unit, route, units, tried)
    if never:
        tried.clauses.append(Clause(unit.name, route, frozenset(), True))
        tried.failures[steps[-1]] = list(never)
        return
    clause, failures = explain(ws, leg, unit, route, done, units)
    tried.clauses.append(clause)
    if len(units) > MANY:  # to try another order costs more than to look further into the failure
        tried.clauses += more_causes(ws, leg, unit, clause, done, units)
    if failures:  # else the route works but for its free paths, and the attempt says which was not found
        tried.failures[steps[-1]] = failures


def keeps_tool(by_name: dict[str, Unit], proposal: Proposal, i: int) -> bool:
    """Whether the step after step i takes the same tool in the same hand."""
    if i + 1 == len(proposal.steps):
        return False
    (name, route), (after, then) = proposal.steps[i], proposal.steps[i + 1]
    one, two = by_name[name], by_name[after]
    same = one.mates[0].stands == two.mates[0].stands  # else a hand has to be free to bring it elsewhere
    return one.tool is not None and one.tool == two.tool and route == then and same


def _attempts(
    ws: Workspace,
    leg: Leg,
    unit: Unit,
    route: Route,
    keep: bool,
    seed: int,
    spent: Container[object],
    units: tuple[Unit, ...],
) -> Iterator[Leg | Failure]:
    """From where things stand; then, if that might help, with the idle hands sent home first. Failures are
    those of the last attempt."""
    failures = []
    for result in realise(ws, leg, unit, route, keep, seed, spent):
        if isinstance(result, Leg):
            yield result
        else:
            failures.append(result)
    if lasting(ws, leg, unit, units, failures):
        yield from failures
        return
    idle = [h for h in ws.hands if leg.state.held_by(h) is None]
    cleared = go_home(ws, leg, idle, unit.mates[0].name, stream(seed, unit.name))
    yield from failures if cleared is leg else realise(ws, cleared, unit, route, keep, seed, spent)


def go_home(ws: Workspace, leg: Leg, hands: list[str], mate: str, seed: int) -> Leg:
    """Send hands home that hold nothing and can get there; the leg itself if none moves."""
    for hand in (h for h in hands if leg.state.held_by(h) is None):
        home = ws.hands[hand].chain.home
        if np.abs(leg.state.q[hand] - home).max() > 1e-9 and not leg.pending:
            way = connect(ws, leg.state, hand, home, seed)
            if not isinstance(way, Failure):
                reach = element("reach", hand, "", "home", mate, (way,), opening=leg.state.widths[hand])
                leg = leg.then(leg.state.moved(hand, home), reach)
    return leg
