from __future__ import annotations

import math

import pytest

from handfast.uncertainty.coverage_factor import coverage_factor
from handfast.uncertainty.gum import Quantity, propagate
from handfast.uncertainty.stack_up import root_sum_squares, worst_case


def test_square_of_a_normal_quantity_has_its_exact_variance() -> None:
    # Exact: Var(x^2) = 4 m^2 s^2 + 2 s^4.
    found = propagate(lambda x: x[0] ** 2, [Quantity(3.0, 0.5)])
    assert found.uncertainty == pytest.approx(3.0, rel=1e-12)
    assert found.second_order**2 == pytest.approx(4 * 9 * 0.25 + 2 * 0.5**4, rel=1e-12)


def test_product_of_two_normal_quantities_has_its_exact_variance() -> None:
    # Exact: Var(xy) = m1^2 s2^2 + m2^2 s1^2 + s1^2 s2^2.
    found = propagate(lambda x: x[0] * x[1], [Quantity(2.0, 0.3), Quantity(5.0, 0.4)])
    assert found.second_order**2 == pytest.approx(4 * 0.16 + 25 * 0.09 + 0.09 * 0.16, rel=1e-12)


def test_cube_of_a_normal_quantity_to_second_order() -> None:
    # Exact: Var(x^3) = 9 m^4 s^2 + 36 m^2 s^4 + 15 s^6; half of the 36 comes from each of the two GUM terms.
    mean, sigma = 2.0, 1e-3
    found = propagate(lambda x: x[0] ** 3, [Quantity(mean, sigma)])
    extra = (found.second_order**2 - found.uncertainty**2) / sigma**4
    assert extra == pytest.approx(36 * mean**2, rel=1e-3)


def test_mixed_third_derivative_counts() -> None:
    # y = x z^2: Var = E[z^4] E[x^2] - (E[x] E[z^2])^2, exact for normal x, z.
    x, z, s = 1.0, 2.0, 0.01
    found = propagate(lambda q: q[0] * q[1] ** 2, [Quantity(x, s), Quantity(z, s)])
    fourth = z**4 + 6 * z**2 * s**2 + 3 * s**4
    exact = fourth * (x * x + s * s) - (x * (z * z + s * s)) ** 2
    assert found.second_order**2 == pytest.approx(exact, rel=1e-6)
    assert found.uncertainty**2 != pytest.approx(exact, rel=1e-5)


def test_effective_degrees_of_freedom() -> None:
    # Welch-Satterthwaite, JCGM 100:2008 G.4.1: equal parts with 10 freedoms each give 20.
    found = propagate(lambda x: x[0] + x[1], [Quantity(0.0, 1.0, 10), Quantity(0.0, 1.0, 10)])
    assert found.freedom == pytest.approx(20.0)
    assert math.isinf(propagate(lambda x: x[0], [Quantity(0.0, 1.0)]).freedom)


def test_refuses_nonsense() -> None:
    with pytest.raises(ValueError, match="uncertainty >= 0"):
        Quantity(1.0, -0.1)
    with pytest.raises(ValueError, match="degree of freedom"):
        Quantity(1.0, 0.1, 0.0)
    with pytest.raises(ValueError, match="confidence"):
        coverage_factor(1.0, 10)
    with pytest.raises(ValueError, match="2 sensitivities"):
        worst_case([0.1], [1.0, 2.0])
    with pytest.raises(ValueError, match="zero or more"):
        root_sum_squares([-0.1])
