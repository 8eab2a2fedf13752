"""Propagation of measurement uncertainty after the GUM (JCGM 100:2008), with its second-order terms.

First order 5.1.2, sensitivities by differences over +-u (5.1.3 note 2), second-order terms (5.1.2 note),
effective degrees of freedom by Welch and Satterthwaite (G.4.1), expanded uncertainty G.3. Independent inputs
only.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from handfast.uncertainty.coverage_factor import coverage_factor

Measurement = Callable[[Sequence[float]], float]


@dataclass(frozen=True, slots=True)
class Quantity:
    """An input: its value, standard uncertainty and degrees of freedom."""

    value: float
    uncertainty: float
    freedom: float = math.inf

    def __post_init__(self) -> None:
        if not (self.uncertainty >= 0.0 and self.freedom >= 1.0):
            raise ValueError(
                f"quantity: expected uncertainty >= 0 and 1 degree of freedom or more, "
                f"found {self.uncertainty} and {self.freedom}"
            )


@dataclass(frozen=True, slots=True)
class Propagated:
    """A result: value, uncertainty (to first and second order), freedom, |c_i u_i|."""

    value: float
    uncertainty: float
    second_order: float
    freedom: float
    contributions: tuple[float, ...]

    def expanded(self, confidence: float) -> float:
        """Expanded uncertainty from the first-order terms at `confidence`, such as 0.99."""
        return coverage_factor(confidence, self.freedom) * self.uncertainty


def propagate(measurement: Measurement, inputs: Sequence[Quantity]) -> Propagated:
    """Propagate independent `inputs` through `measurement`, a function of their values in order."""
    steps = [_along(measurement, inputs, i) for i in range(len(inputs))]
    variance = sum(step * step for step in steps)
    extra = _second_order(measurement, inputs)
    return Propagated(
        value=measurement([quantity.value for quantity in inputs]),
        uncertainty=math.sqrt(variance),
        second_order=math.sqrt(max(variance + extra, 0.0)),
        freedom=_welch_satterthwaite(steps, inputs),
        contributions=tuple(abs(step) for step in steps),
    )


def _at(measurement: Measurement, inputs: Sequence[Quantity], moves: dict[int, float]) -> float:
    """The result with input i moved by moves[i] of its standard uncertainties."""
    return measurement([q.value + moves.get(i, 0.0) * q.uncertainty for i, q in enumerate(inputs)])


def _along(measurement: Measurement, inputs: Sequence[Quantity], i: int) -> float:
    """c_i u_i as half the change over +-u_i."""
    return 0.5 * (_at(measurement, inputs, {i: 1.0}) - _at(measurement, inputs, {i: -1.0}))


def _second_order(measurement: Measurement, inputs: Sequence[Quantity]) -> float:
    """Sum over i, j of [(1/2)(f_ij)^2 + f_i f_ijj] u_i^2 u_j^2, all by differences over +-u."""
    count = len(inputs)
    total = 0.0
    for i in range(count):
        for j in range(count):
            total += 0.5 * _mixed(measurement, inputs, i, j) ** 2
            total += _along(measurement, inputs, i) * _third(measurement, inputs, i, j)
    return total


def _mixed(measurement: Measurement, inputs: Sequence[Quantity], i: int, j: int) -> float:
    """f_ij u_i u_j."""
    if i == j:
        up, down = _at(measurement, inputs, {i: 1.0}), _at(measurement, inputs, {i: -1.0})
        return up - 2.0 * _at(measurement, inputs, {}) + down
    corners = [(a, b, _at(measurement, inputs, {i: a, j: b})) for a in (1.0, -1.0) for b in (1.0, -1.0)]
    return 0.25 * sum(a * b * value for a, b, value in corners)


def _third(measurement: Measurement, inputs: Sequence[Quantity], i: int, j: int) -> float:
    """f_ijj u_i u_j^2."""
    if i == j:
        far = _at(measurement, inputs, {i: 2.0}) - _at(measurement, inputs, {i: -2.0})
        return 0.5 * far - 2.0 * _along(measurement, inputs, i)

    def bend(a: float) -> float:
        ends = _at(measurement, inputs, {i: a, j: 1.0}) + _at(measurement, inputs, {i: a, j: -1.0})
        return ends - 2.0 * _at(measurement, inputs, {i: a})

    return 0.5 * (bend(1.0) - bend(-1.0))


def _welch_satterthwaite(steps: Sequence[float], inputs: Sequence[Quantity]) -> float:
    below = sum(step**4 / quantity.freedom for step, quantity in zip(steps, inputs, strict=True))
    above = sum(step * step for step in steps) ** 2
    return above / below if below > 0.0 else math.inf
