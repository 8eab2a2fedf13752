"""The weakest reason why a route does not work: confirmed by re-testing without what might be in the way."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np

from handfast.mates.home import assembled_poses
from handfast.mates.subassemblies import stands_on
from handfast.model.mate import Mate
from handfast.planning.clause import Clause
from handfast.planning.failure import Failure
from handfast.planning.leg import Leg
from handfast.planning.pick import pick
from handfast.planning.realise import realise
from handfast.planning.route import Route
from handfast.planning.sifted import sifted
from handfast.planning.stand import is_standing, root_of, stood
from handfast.planning.state import State
from handfast.planning.unit import Unit, all_needs, names, retained_by, routes_of
from handfast.planning.workspace import Workspace
from handfast.spatial import se3

MANY = 20  # units that are not all taken away one by one
_SOME = 8  # so many of many are taken away at once at first

_AT_GRASP = ("collision at grasp", "collision at mate")  # exact, and of one grasp whatever the arm does


def explain(
    ws: Workspace, leg: Leg, unit: Unit, route: Route, done: frozenset[str], units: tuple[Unit, ...]
) -> tuple[Clause, list[Failure]]:
    """A clause that rules out this failure and as many like it as can be confirmed, and the failures behind
    it (none if it is only a free path that was not found).

    Free paths are taken for granted here: if the route works then, only its path was not found, and the
    clause covers just this context and is not proven. So it is if the route works once the idle hands are at
    home: where they stand is no matter of the route. Otherwise units are taken away one by one, done parts
    and parts that still lie at their start alike, as long as the route keeps failing; what is left are the
    units whose presence matters.
    """
    rest = frozenset(u.name for u in units) - done - {unit.name}
    if not is_standing(leg.state, unit.mates[0]):
        # It has to be brought elsewhere first, from where others left it: this tells of no other context.
        return Clause(unit.name, route, done, False, rest), []
    dry = replace(ws, dry=True)
    works, failures = can_do(dry, leg, unit, route)
    home = idle_home(dry, leg)
    if works or (home is not leg and can_do(dry, home, unit, route)[0]):
        return Clause(unit.name, route, done, False, rest), [] if works else failures
    leg, fixed = home, needed_there(unit, units)
    matter = (done | rest) - fixed
    in_hand = held_in_hand(unit)
    bare = left_out(leg, matter, units)
    if not can_do(dry, bare, unit, route)[0]:
        if in_hand:  # it could be held otherwise
            return Clause(unit.name, route, frozenset(), False), failures
        works, bare_failures = can_do(dry, _hands_off(dry, bare), unit, route)
        if not works:
            return Clause(unit.name, route, frozenset(), is_certain(bare_failures)), bare_failures
        # What a hand holds is in the way, or the hand itself: its grasp is to blame, so nothing is proven.
        held, until = _held(done, units)
        return Clause(unit.name, route, held, False, until - {unit.name}), failures
    matter, last = least_causes(dry, leg, unit, route, units, matter, failures)
    return Clause(unit.name, route, matter & done, is_certain(last) and not in_hand, matter & rest), last


def least_causes(
    dry: Workspace,
    leg: Leg,
    unit: Unit,
    route: Route,
    units: tuple[Unit, ...],
    all_: frozenset[str],
    failures: list[Failure],
) -> tuple[frozenset[str], list[Failure]]:
    """Of the units with all of which a route fails, some without any one of which it does not, and the
    failures with these alone. Of many, those that were hit are tried by themselves first."""
    matter, last = all_, failures

    def kept(fewer: frozenset[str]) -> None:
        nonlocal matter, last
        works, without = can_do(dry, left_out(leg, all_ - fewer, units), unit, route)
        if not works:
            matter, last = fewer, without

    if len(all_) > MANY:
        hit = {f.hit for f in failures}
        by = [u for u in units if u.name in all_ and hit & set(u.parts)]
        kept(all_ & frozenset(u.name for u in by).union(*(needed_there(u, units) for u in by)))
    there = {u.name: needed_there(u, units) for u in units}
    left, most = sorted(matter), _SOME if len(all_) > MANY else 1
    some = most
    while left:
        before, gone = matter, frozenset(left[:some])
        kept(matter - gone - {other for other, needed in there.items() if gone & needed})
        if matter is before and some > 1:  # one of them matters: which, is found out by fewer
            some //= 2
            continue
        # What cannot be there without them went with them.
        left = [name for name in left[some:] if name in matter]
        some = most if matter is before else some
    return matter, last


def never(ws: Workspace, leg: Leg, unit: Unit, route: Route, units: tuple[Unit, ...]) -> tuple[Failure, ...]:
    """Why a route never works: it comes to nothing even with nothing there but what the unit is joined to,
    every hand empty and at home, and free paths taken for granted. Nothing if it might work some time.

    What stands in a hand could be held otherwise; then only bringing it there and taking the part up count.
    """
    dry, mate = replace(ws, dry=True), unit.mates[0]
    others = frozenset(u.name for u in units) - {unit.name} - needed_there(unit, units)
    bare = left_out(leg, others, units)
    unpicked = _unpicked(dry, bare, mate, route) if held_in_hand(unit) and route.kind != "tool" else ()
    if unpicked:
        return unpicked
    if not is_standing(bare.state, mate):
        root = root_of(bare.state, mate.into)
        if _only_brought_to(ws, root) != {mate.stands}:
            return ()  # it may come from elsewhere another time
        brought, failures = _until_one(stood(dry, _hands_off(dry, bare), mate, 0))
        return () if brought else _if_certain(failures)
    if held_in_hand(unit):
        return ()
    works, found = can_do(dry, _hands_off(dry, bare), unit, route)
    return () if works else _if_certain(found)


def lasting(ws: Workspace, leg: Leg, unit: Unit, units: tuple[Unit, ...], failures: list[Failure]) -> bool:
    """Whether a route came to nothing for reasons that last, whatever is done before: each grasp is out of
    reach, or meets what never moves or what the unit is joined to. Then `never` would find the same."""
    mate = unit.mates[0]
    if held_in_hand(unit) or not is_standing(leg.state, mate) or ws.group(leg.state, mate.part):
        return False
    needed = needed_there(unit, units)
    there = {p for u in units if u.name in needed for p in u.parts}
    lasts = {block.body.name for block in ws.fixed} | there | {mate.part, ws.project.product.base}
    return bool(failures) and all(
        f.of[:1] in (("pick",), ("place",))
        and (f.cause == "out of reach" or (f.cause in _AT_GRASP and f.hit in lasts))
        for f in failures
    )


def _unpicked(dry: Workspace, bare: Leg, mate: Mate, route: Route) -> tuple[Failure, ...]:
    """Why the first hand cannot take a part up, with what it goes into out of the way; nothing if it can."""
    root = root_of(bare.state, mate.into)
    upon = {root, *(name for name, _ in dry.group(bare.state, root))}
    away = _hands_off(dry, Leg(bare.state.without(upon)))
    hand, failures = route.hands[0], list[Failure]()
    taken = sifted(dry, away, hand, mate)
    for grasp in taken.to_pick():
        picked, why = _until_one(pick(dry, away, hand, mate.part, grasp, mate.name, 0))
        if picked:
            return ()
        failures += why
    return _if_certain([*taken.failures, *failures])


def _only_brought_to(ws: Workspace, root: str) -> set[str | None]:
    """Where mates want what they are built on to stand, other than where it lies."""
    product = ws.project.product
    return {m.stands for m in product.mates if m.stands is not None and stands_on(product, m) == root}


def held_in_hand(unit: Unit) -> bool:
    """Whether a hand holds what the unit goes into."""
    return (unit.mates[0].stands or "").startswith("hand.")


def _if_certain(failures: list[Failure]) -> tuple[Failure, ...]:
    return tuple(failures) if is_certain(failures) else ()


def is_certain(failures: list[Failure]) -> bool:
    """Whether nothing was given up at a cap: then there is no way at this resolution."""
    return all(f.cause != "not found within the cap" for f in failures)


def works_alone(ws: Workspace, unit: Unit, units: tuple[Unit, ...]) -> bool:
    """Whether some route does a unit, free paths taken for granted, with nothing there but what it is joined
    to."""
    dry = replace(ws, dry=True)
    others = frozenset(u.name for u in units) - {unit.name} - needed_there(unit, units)
    leg = left_out(Leg(joined(ws, needed_for(unit, units), units)), others, units)
    return any(can_do(dry, leg, unit, r)[0] for r in routes_of(unit, tuple(ws.hands), _has_set_down(ws)))


def _has_set_down(ws: Workspace) -> bool:
    return any(h.kind == "set-down" for h in ws.project.cell.holders)


def joined(ws: Workspace, done: frozenset[str], units: tuple[Unit, ...]) -> State:
    """The start, with some units already done."""
    state, product = ws.start(), ws.project.product
    home = assembled_poses(product)
    for mate in (m for u in units if u.name in done for m in u.mates):
        state = state.attached(mate.part, f"part.{mate.into}", se3.inverse(home[mate.into]) @ home[mate.part])
    return state


def can_do(ws: Workspace, leg: Leg, unit: Unit, route: Route) -> tuple[bool, list[Failure]]:
    """Whether a route does a unit from where a leg ends, and what it failed at before."""
    return _until_one(realise(ws, leg, unit, route, False, 0))


def _until_one(results: Iterator[Leg | Failure]) -> tuple[bool, list[Failure]]:
    """Whether there is a leg among results, and the failures before it."""
    failures: list[Failure] = []
    for result in results:
        if isinstance(result, Leg):
            return True, failures
        failures.append(result)
    return False, failures


def left_out(leg: Leg, names: Iterable[str], units: tuple[Unit, ...]) -> Leg:
    """The leg with the parts of some units taken out of the scene; a hand that held one of them stands empty
    at its place."""
    parts = {p for u in units if u.name in set(names) for p in u.parts}
    state: State = leg.state.once(("without", *sorted(parts)), lambda: leg.state.without(parts))
    return Leg(state, leg.elements)


def _hands_off(ws: Workspace, leg: Leg) -> Leg:
    """The leg with every hand empty and at home: a part that was held stays where it is, a tool is in its
    stand."""
    state, cell = leg.state, ws.project.cell
    for hand, h in ws.hands.items():
        held = state.held_by(hand)
        mate = next((m for m in ws.project.product.mates if m.part == held), None)
        if held is not None and mate is not None:
            T_into = se3.inverse(ws.pose(state, mate.into)) @ ws.pose(state, held)
            state = state.attached(held, f"part.{mate.into}", T_into)
        elif held in {t.name for t in cell.tools}:
            holder, place = cell.place_of(held)
            state = state.attached(held, f"place.{holder.name}.{place.name}", np.eye(4))
        elif held is not None:
            return leg  # what the mates go into: it stands nowhere else
        state = state.moved(hand, h.chain.home)
    return Leg(state, leg.elements)


def idle_home(ws: Workspace, leg: Leg) -> Leg:
    """The leg with every hand at home that holds nothing; the same one if they are."""

    def sent() -> State:
        state = leg.state
        for hand, h in ws.hands.items():
            if state.held_by(hand) is None and np.any(state.q[hand] != h.chain.home):
                state = state.moved(hand, h.chain.home)
        return state

    state = leg.state.once(("idle home",), sent)
    return leg if state is leg.state else Leg(state, leg.elements)


def _held(done: frozenset[str], units: tuple[Unit, ...]) -> tuple[frozenset[str], frozenset[str]]:
    """Units whose parts hands still hold, and the units that will retain them."""
    until = {u.name: retained_by(u, units) for u in units if u.name in done}
    held = {name: end for name, end in until.items() if end is not None and end not in done}
    return frozenset(held), frozenset(held.values())


def needed_for(unit: Unit, units: tuple[Unit, ...]) -> frozenset[str]:
    """Units that this one cannot do without, directly or through others."""
    before = all_needs(units)
    found: set[str] = set()
    waiting = [unit.name]
    while waiting:
        more = before[waiting.pop()] - found
        found |= more
        waiting += more
    return frozenset(found)


def needed_there(unit: Unit, units: tuple[Unit, ...]) -> frozenset[str]:
    """Units whose parts this one cannot do without: home, or lying where it is built on them."""
    closure = needed_for(unit, units)
    apart = frozenset().union(*(u.apart for u in units if u is unit or u.name in closure))
    return closure | {u.name for u in units if apart & names(u)} if apart else closure
