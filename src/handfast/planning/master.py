"""The constraint master: order, routes and hands, under everything learned so far."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from handfast.planning.route import COST, Route
from handfast.planning.unit import Unit, needs, retained_by

_SCALE = 1000
_INVERSION = 10  # of a thousandth of a second: prefers the order of the file where nothing else decides


@dataclass(frozen=True, slots=True)
class Clause:
    """A route of a unit that does not work when all of `present` are already done and none of `absent` is.
    proven: confirmed by re-testing; otherwise a search ran out of its cap."""

    unit: str
    route: Route
    present: frozenset[str]
    proven: bool
    absent: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Proposal:
    """Units in order, each with its route; cost in thousandths of a second."""

    steps: tuple[tuple[str, Route], ...]
    cost: int


def propose(
    units: tuple[Unit, ...],
    routes: dict[str, tuple[Route, ...]],
    clauses: tuple[Clause, ...],
    order_given: bool,
) -> Proposal | None:
    """The cheapest order and routes that no clause forbids; None if there is none.

    Repeatable: one worker, no wall-clock limit.
    """
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    n = len(units)
    place = {u.name: model.new_int_var(0, n - 1, f"place {u.name}") for u in units}
    model.add_all_different(list(place.values()))
    earlier = {}
    for i, a in enumerate(units):
        for b in units[i + 1 :]:
            ab = model.new_bool_var(f"{a.name} before {b.name}")
            model.add(place[a.name] < place[b.name]).only_enforce_if(ab)
            model.add(place[a.name] > place[b.name]).only_enforce_if(~ab)
            earlier[a.name, b.name], earlier[b.name, a.name] = ab, ~ab
    use = {u.name: {r: model.new_bool_var(f"{u.name} {r}") for r in routes[u.name]} for u in units}
    for u in units:
        model.add_exactly_one(use[u.name].values())
        for before in needs(u, units):
            model.add_bool_and([earlier[before, u.name]])
    if order_given:
        for a, b in pairwise(units):
            model.add_bool_and([earlier[a.name, b.name]])
    for u in units:
        until = retained_by(u, units)
        if until is not None:
            _keep_hand(model, u, until, units, use, earlier)
    for clause in clauses:
        here = use[clause.unit].get(clause.route)
        if here is not None:
            way_out = [earlier[clause.unit, p] for p in sorted(clause.present)]
            way_out += [earlier[p, clause.unit] for p in sorted(clause.absent)]
            model.add_bool_or([~here, *way_out])
    cost = sum(COST[r.kind] * _SCALE * var for u in units for r, var in use[u.name].items())
    cost += sum(_INVERSION * earlier[b.name, a.name] for i, a in enumerate(units) for b in units[i + 1 :])
    # Equal costs are told apart by the order of hands in the file, so that the answer does not hang on the
    # solver's whims.
    cost += sum(k * var for u in units for k, var in enumerate(use[u.name].values()))
    model.minimize(cost)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 0
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    order = sorted(units, key=lambda u: solver.value(place[u.name]))
    steps = tuple((u.name, next(r for r, v in use[u.name].items() if solver.value(v))) for u in order)
    return Proposal(steps, round(solver.objective_value))


def _keep_hand(model, held: Unit, until: str, units, use, earlier) -> None:  # type: ignore[no-untyped-def]
    """While a hand holds a part until it is retained, no unit in between uses that hand."""
    model.add_bool_and([earlier[held.name, until]])
    for route, here in use[held.name].items():
        for other in units:
            if other is held:
                continue
            for r, there in use[other.name].items():
                if route.last in r.hands:
                    outside = [earlier[other.name, held.name]]
                    outside += [earlier[until, other.name]] if other.name != until else []
                    model.add_bool_or([~here, ~there, *outside])
