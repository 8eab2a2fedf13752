"""Many units put in order one after another: rules kept, routes as cheap as the solver's."""

from __future__ import annotations

import numpy as np
import pytest
from tests.planning.test_master import HANDS, Routes, keeps_the_rules, unit

from handfast.planning.clause import Clause
from handfast.planning.in_file_order import Steps, in_file_order
from handfast.planning.master import crowded as without_all_pairs
from handfast.planning.master import solved
from handfast.planning.route import COST
from handfast.planning.unit import Unit, routes_of


def crowded(seed: int) -> tuple[tuple[Unit, ...], Routes, tuple[Clause, ...]]:
    """25 units, some built on others, of which some keep each other out: each way by one or two hands."""
    rng = np.random.default_rng(seed)
    names = [f"m{i}" for i in range(25)]
    units = tuple(
        unit(name, f"part {rng.choice(names[:i])}" if i and rng.random() < 0.2 else "base")
        for i, name in enumerate(names)
    )
    routes = {u.name: routes_of(u, HANDS, False) for u in units}
    clauses = []
    for _ in range(30):
        one, *others = (str(n) for n in rng.choice(names, rng.integers(2, 4), replace=False))
        split = rng.random(len(others)) < 0.5
        present = frozenset(n for n, p in zip(others, split, strict=True) if p)
        absent = frozenset(others) - present
        some = routes[one][: rng.integers(1, 3)]
        clauses += [Clause(one, r, present, True, absent) for r in some]
    return units, routes, tuple(clauses)


def routed(steps: Steps) -> float:
    return sum(COST[r.kind] for _, r in steps)


@pytest.mark.parametrize("seed", range(12))
def test_rules_are_kept_and_the_routes_cost_as_little_as_the_solvers(seed: int) -> None:
    units, routes, clauses = crowded(seed)
    steps = in_file_order(units, routes, clauses)
    if steps is None:  # the solver is asked then
        return
    assert keeps_the_rules(steps, units, clauses)
    best = solved(units, routes, clauses, False)
    assert best is not None
    assert routed(steps) <= routed(best.steps)


@pytest.mark.parametrize("seed", range(12))
def test_units_that_keep_each_other_out_take_routes_that_cost_as_little(seed: int) -> None:
    units, routes, clauses = crowded(seed)
    found, least = without_all_pairs(units, routes, clauses), in_file_order(units, routes, clauses)
    assert found is not None
    assert keeps_the_rules(found.steps, units, clauses)
    assert least is None or routed(found.steps) == routed(least)  # as little as they cost by themselves


def test_none_is_found_where_two_keep_each_other_out() -> None:
    units, routes, _ = crowded(0)
    one, two = [u.name for u in units if u.mates[0].into == "base"][:2]
    shut = [Clause(a, r, frozenset({b}), True) for a, b in ((one, two), (two, one)) for r in routes[a]]
    assert without_all_pairs(units, routes, tuple(shut)) is None


def test_most_of_them_are_met() -> None:
    assert sum(in_file_order(*crowded(seed)) is not None for seed in range(12)) >= 6


def test_nothing_is_met_where_a_unit_has_no_route_left() -> None:
    units, routes, _ = crowded(0)
    never = tuple(Clause("m3", r, frozenset(), True) for r in routes["m3"])
    assert in_file_order(units, routes, never) is None


def test_a_unit_that_another_would_shut_out_goes_first() -> None:
    units = tuple(unit(f"m{i}") for i in range(3))
    routes = {u.name: routes_of(u, HANDS, False)[:2] for u in units}
    shut = tuple(Clause("m2", r, frozenset({"m0"}), True) for r in routes["m2"])
    steps = in_file_order(units, routes, shut)
    assert steps is not None
    assert [name for name, _ in steps] == ["m1", "m2", "m0"]
