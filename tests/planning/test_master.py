"""The master against brute force: every order, every route, every rule checked in plain words."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import permutations, product

import numpy as np
import pytest

from handfast.model.mate import FeaturePair, Mate
from handfast.planning import master
from handfast.planning.clause import Clause
from handfast.planning.master import Proposal, propose, solved
from handfast.planning.route import COST, Route
from handfast.planning.unit import Unit, routes_of, units_of

HANDS = ("left", "right")
Steps = tuple[tuple[str, Route], ...]
Routes = dict[str, tuple[Route, ...]]


def unit(name: str, into: str = "base", **more: object) -> Unit:
    mate = Mate(name, "insert", f"part {name}", into, (FeaturePair("a", into, "b"),), **more)  # type: ignore[arg-type]
    return Unit(name, (mate,))


def drawn(rng: np.random.Generator) -> tuple[tuple[Unit, ...], Routes, tuple[Clause, ...]]:
    """Two to four units, some built on others, some held until another retains them, under random clauses."""
    names = [f"m{i}" for i in range(rng.integers(2, 5))]
    units = []
    for i, name in enumerate(names):
        others = [n for n in names if n != name]
        into = f"part {rng.choice(names[:i])}" if i and rng.random() < 0.3 else "base"
        more: dict[str, object] = {}
        if rng.random() < 0.2:
            more["needs"] = (str(rng.choice(others)),)
        if rng.random() < 0.35:
            more["held_until"] = str(rng.choice(others))
        if rng.random() < 0.3:
            more["tool"] = "driver"
        units.append(unit(name, into, **more))
    routes = {u.name: routes_of(u, HANDS, bool(rng.random() < 0.3)) for u in units}
    clauses = []
    for _ in range(rng.integers(0, 9)):
        u = units[rng.integers(len(units))]
        route = routes[u.name][rng.integers(len(routes[u.name]))]
        rest = [n for n in names if n != u.name]
        split = rng.integers(0, 3, len(rest))
        present = frozenset(n for n, s in zip(rest, split, strict=True) if s == 1)
        absent = frozenset(n for n, s in zip(rest, split, strict=True) if s == 2)
        clauses.append(Clause(u.name, route, present, bool(rng.random() < 0.5), absent))
    return tuple(units), routes, tuple(clauses)


def sequences(units: tuple[Unit, ...], routes: Routes) -> Iterator[Steps]:
    for order in permutations(u.name for u in units):
        for chosen in product(*(routes[name] for name in order)):
            yield tuple(zip(order, chosen, strict=True))


def keeps_the_rules(steps: Steps, units: tuple[Unit, ...], clauses: tuple[Clause, ...]) -> bool:
    mates = {u.name: u.mates[0] for u in units}
    parts = {m.part: name for name, m in mates.items()}
    order = [name for name, _ in steps]
    held: dict[str, tuple[str, str]] = {}  # hand: (unit that holds it, unit that ends it)
    for i, (name, route) in enumerate(steps):
        before, mate = set(order[:i]), mates[name]
        built_on = {parts[p] for p in (mate.into, *mate.clamps) if p in parts}
        if not built_on | (set(mate.needs) & set(order)) <= before:
            return False
        if any(hand in held and held[hand][1] != name for hand in route.hands):
            return False  # the hand is holding something that this unit does not let go
        if any(hand in held and held[hand][1] == name for hand in route.hands):
            return False  # nor can it do the retaining itself
        if any(
            c.unit == name and c.route == route and c.present <= before and not (c.absent & before)
            for c in clauses
        ):
            return False
        held = {hand: h for hand, h in held.items() if h[1] != name}
        if mate.held_until is not None:
            if mate.held_until in before:
                return False  # what should retain it is already done
            held[route.last] = (name, mate.held_until)
    return True


def seconds(steps: Steps) -> int:
    return sum(COST[route.kind] for _, route in steps)


def exact(steps: Steps, units: tuple[Unit, ...], routes: Routes) -> int:
    """Milliseconds: of the routes, and a trifle for each later route of the file and each pair out of
    order."""
    names = [u.name for u in units]
    order = [names.index(name) for name, _ in steps]
    swapped = sum(b < a for i, a in enumerate(order) for b in order[i + 1 :])
    return 1000 * seconds(steps) + sum(routes[name].index(route) for name, route in steps) + 10 * swapped


@pytest.mark.parametrize("seed", range(150))
def test_the_cheapest_sequence_is_found_and_none_where_there_is_none(seed: int) -> None:
    units, routes, clauses = drawn(np.random.default_rng(seed))
    allowed = [s for s in sequences(units, routes) if keeps_the_rules(s, units, clauses)]
    proposal = propose(units, routes, clauses, order_given=False)
    assert (proposal is None) == (not allowed)
    if proposal is not None:
        assert keeps_the_rules(proposal.steps, units, clauses)
        assert seconds(proposal.steps) == min(map(seconds, allowed))
        assert proposal.cost == exact(proposal.steps, units, routes)
        assert proposal.cost == min(exact(s, units, routes) for s in allowed)


@pytest.mark.parametrize("seed", range(0, 150, 2))
def test_it_is_so_where_pairs_are_written_down_when_they_matter(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As with more units than all pairs are written down of."""
    monkeypatch.setattr(master, "_FEW", 0)
    units, routes, clauses = drawn(np.random.default_rng(seed))
    allowed = [s for s in sequences(units, routes) if keeps_the_rules(s, units, clauses)]
    proposal = solved(units, routes, clauses, order_given=False)
    assert (proposal is None) == (not allowed)
    if proposal is not None:
        assert keeps_the_rules(proposal.steps, units, clauses)
        assert proposal.cost == exact(proposal.steps, units, routes)
        assert proposal.cost == min(exact(s, units, routes) for s in allowed)


@pytest.mark.parametrize("seed", range(7))
def test_many_units_cost_the_same_with_all_pairs_written_down(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """25 units, some built on others, under clauses of any kind: more than orders can be counted through."""
    rng = np.random.default_rng(seed)
    names = [f"m{i}" for i in range(25)]
    units = []
    for i, name in enumerate(names):
        into = f"part {rng.choice(names[:i])}" if i and rng.random() < 0.2 else "base"
        other = str(rng.choice([n for n in names if n != name]))
        units.append(unit(name, into, needs=(other,) if rng.random() < 0.05 else ()))
    routes = {u.name: routes_of(u, HANDS, False) for u in units}
    clauses = []
    for _ in range(12):
        u = str(rng.choice(names))
        rest = [n for n in names if n != u]
        here = rng.random(len(rest)) < rng.choice([0.1, 0.5, 1.0])
        after = here & (rng.random(len(rest)) < 0.5)
        present = frozenset(n for n, h, a in zip(rest, here, after, strict=True) if h and not a)
        absent = frozenset(n for n, a in zip(rest, after, strict=True) if a)
        clauses += [Clause(u, r, present, False, absent) for r in routes[u][:4]]
    free = solved(tuple(units), routes, tuple(clauses), False)
    monkeypatch.setattr(master, "_FEW", 100)
    every = solved(tuple(units), routes, tuple(clauses), False)
    assert (free is None) == (every is None)
    if free is not None and every is not None:
        assert free.cost == every.cost == exact(free.steps, tuple(units), routes)
        assert keeps_the_rules(free.steps, tuple(units), tuple(clauses))


def test_the_random_cases_are_worth_it() -> None:
    cases = [drawn(np.random.default_rng(seed)) for seed in range(150)]
    found = [propose(*case, order_given=False) for case in cases]
    easy = [propose(units, routes, (), order_given=False) for units, routes, _ in cases]
    assert 20 < sum(p is None for p in found) < 130
    bitten = [
        a for a, b in zip(found, easy, strict=True) if a is not None and b is not None and a.cost > b.cost
    ]
    assert len(bitten) > 20


@pytest.mark.parametrize("seed", range(0, 150, 5))
def test_a_given_order_is_kept(seed: int) -> None:
    units, routes, clauses = drawn(np.random.default_rng(seed))
    names = [u.name for u in units]
    allowed = [
        s for s in sequences(units, routes)
        if [n for n, _ in s] == names and keeps_the_rules(s, units, clauses)
    ]  # fmt: skip
    proposal = propose(units, routes, clauses, order_given=True)
    assert (proposal is None) == (not allowed)
    if proposal is not None:
        assert [n for n, _ in proposal.steps] == names
        assert seconds(proposal.steps) == min(map(seconds, allowed))


def found(*args: object) -> Proposal:
    proposal = propose(*args)  # type: ignore[arg-type]
    assert proposal is not None
    return proposal


def test_equal_costs_are_told_apart_by_the_file() -> None:
    units = (unit("b"), unit("a"), unit("c"))
    routes = {u.name: routes_of(u, HANDS, True) for u in units}
    proposal = found(units, routes, (), False)
    assert proposal.steps == tuple((n, Route("direct", ("left",))) for n in ("b", "a", "c"))
    right = {n: tuple(reversed(r)) for n, r in routes.items()}
    assert {r.hands for _, r in found(units, right, (), False).steps} == {("right",)}


def test_a_hand_that_holds_is_left_alone_until_it_may_let_go() -> None:
    units = (unit("cover", held_until="screw"), unit("cap"), unit("screw", tool="driver"))
    routes = {u.name: routes_of(u, HANDS, False) for u in units}
    for fixed in ("left", "right"):
        only = {**routes, "cover": (Route("direct", (fixed,)),)}
        for order_given in (True, False):
            steps = dict(found(units, only, (), order_given).steps)
            assert steps["screw"].hands == ("right",) if fixed == "left" else ("left",)
        assert dict(found(units, only, (), True).steps)["cap"].hands != (fixed,)
    one_hand = {n: tuple(r for r in rs if r.hands == ("left",)) for n, rs in routes.items()}
    assert propose(units, one_hand, (), False) is None


def test_a_clause_that_always_holds_takes_its_route_away() -> None:
    units = (unit("a"),)
    routes = {"a": routes_of(units[0], HANDS, False)}
    left = Clause("a", Route("direct", ("left",)), frozenset(), True)
    assert found(units, routes, (left,), False).steps == (("a", Route("direct", ("right",))),)
    every = tuple(Clause("a", r, frozenset(), True) for r in routes["a"])
    assert propose(units, routes, every, False) is None


def test_units_that_need_each_other_have_no_order() -> None:
    units = (unit("a", needs=("b",)), unit("b", needs=("a",)))
    routes = {u.name: routes_of(u, HANDS, False) for u in units}
    assert propose(units, routes, (), False) is None


def test_routes_are_of_every_kind_once() -> None:
    """By hand for two hands: 2 direct, 2 handovers, 4 set-downs; a tool is taken by either."""
    kinds = [str(r) for r in routes_of(unit("a"), HANDS, True)]
    assert kinds == [
        "direct left", "direct right", "handover left>right", "handover right>left",
        "set-down left>left", "set-down left>right", "set-down right>left", "set-down right>right",
    ]  # fmt: skip
    assert [str(r) for r in routes_of(unit("a", tool="driver"), HANDS, True)] == ["tool left", "tool right"]
    assert [str(r) for r in routes_of(unit("a"), ("only",), False)] == ["direct only"]


def test_units_of_a_product_without_patterns_are_its_mates() -> None:
    from handfast.model.product import Product

    mates = tuple(unit(n).mates[0] for n in "abc")
    assert [u.name for u in units_of(Product("base", (), mates))] == ["a", "b", "c"]


def test_what_is_seen_without_the_solver_is_what_the_solver_finds() -> None:
    """Of random products many can be done as the file has them: there the solver is not asked."""
    rng = np.random.default_rng(20)
    as_written = 0
    for _ in range(150):
        units, routes, clauses = drawn(rng)
        found = propose(units, routes, clauses, False)
        assert found == solved(units, routes, clauses, False)
        as_written += found is not None and [n for n, _ in found.steps] == [u.name for u in units]
    assert as_written > 30
