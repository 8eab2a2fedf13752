"""A small door to the constraint solver: Boolean clauses, integer places, a linear cost.

It fills the solver's own model record. The library's Python modelling layer would do the same, but loads a
data-frame library on the way, which costs most of a second at every start.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

_WIDE = 1_000_000  # more than any place in an order, and any number of pairs out of order
_MORE = 4.0  # how many times as much work is done where nothing was found
Literal = int
"""A Boolean variable's number, or -number - 1 for its negation."""


def negated(literal: Literal) -> Literal:
    """The opposite literal."""
    return -literal - 1


@dataclass(frozen=True, slots=True)
class Solution:
    """Values of all variables, and the cost."""

    values: tuple[int, ...]
    cost: int

    def true(self, literal: Literal) -> bool:
        """Whether a literal holds."""
        return bool(self.values[literal]) if literal >= 0 else not self.values[negated(literal)]


class Sat:
    """A model that is filled clause by clause and solved once."""

    def __init__(self) -> None:
        from ortools.sat.python import cp_model_helper

        self._solver = cp_model_helper
        self._model = cp_model_helper.CpModelProto()
        self._cost: list[tuple[int, int]] = []
        self._constant = 0
        self._count = 0

    def integer(self, low: int, high: int) -> int:
        """A new integer variable; its number."""
        self._model.variables.add().domain.extend([low, high])
        self._count += 1
        return self._count - 1

    def boolean(self) -> Literal:
        """A new Boolean variable; its literal."""
        return self.integer(0, 1)

    def any_of(self, literals: Iterable[Literal]) -> None:
        """At least one holds."""
        self._model.constraints.add().bool_or.literals.extend(literals)

    def exactly_one(self, literals: Iterable[Literal]) -> None:
        """One and only one holds."""
        self._model.constraints.add().exactly_one.literals.extend(literals)

    def less(self, a: int, b: int, when: Literal, or_equal: bool = False) -> None:
        """Integer a < integer b whenever the literal holds, or a <= b."""
        constraint = self._model.constraints.add()
        constraint.enforcement_literal.append(when)
        constraint.linear.vars.extend([b, a])
        constraint.linear.coeffs.extend([1, -1])
        constraint.linear.domain.extend([0 if or_equal else 1, _WIDE])

    def at_least(self, terms: Iterable[tuple[int, int]], least: int) -> None:
        """The sum of integer or Boolean variables, each times a number, is no less."""
        linear = self._model.constraints.add().linear
        for variable, times in terms:
            linear.vars.append(variable)
            linear.coeffs.append(times)
        linear.domain.extend([least, _WIDE])

    def costs(self, literal: Literal, amount: int) -> None:
        """Add a cost that is paid if the literal holds."""
        if literal >= 0:
            self._cost.append((literal, amount))
        else:
            self._constant += amount
            self._cost.append((negated(literal), -amount))

    def cheapest(self, work: float | None = None) -> Solution | None:
        """The cheapest solution, None if there is none. Repeatable: one worker, no wall-clock limit.

        work: look no longer than so much of the solver's own count of its steps, about so many seconds, for
        one that is cheaper than what was found; go on if nothing was found at all.
        """
        objective = self._model.objective
        objective.vars.extend([v for v, _ in self._cost])
        objective.coeffs.extend([c for _, c in self._cost])
        while True:
            response = self._solved(work)
            if response.status in (self._solver.OPTIMAL, self._solver.FEASIBLE):
                return Solution(tuple(response.solution), round(response.objective_value) + self._constant)
            if work is None or response.status != self._solver.UNKNOWN:
                return None
            work *= _MORE

    def _solved(self, work: float | None) -> Any:
        solver = self._solver.SolveWrapper()
        parameters = self._solver.SatParameters()
        parameters.num_workers = 1
        parameters.random_seed = 0
        if work is not None:
            parameters.max_deterministic_time = work
        solver.set_parameters(parameters)
        return solver.solve(self._model)  # type: ignore[no-untyped-call]
