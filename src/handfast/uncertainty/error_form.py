"""Error forms: every deviation as a sum of independent causes, each counted once.

A form writes a deviation xi (a twist, m = 6, or one reading, m = 1) as

    xi = mean + sum over instances k of J_k eps_k,       eps_k independent, six freedoms each

An *instance* is one draw of one error source: a source that changes per cycle is drawn anew in each
element, every other has one instance in a build. Two frames that share a source carry the same instance; in
their difference the Jacobians add with their signs before anything is squared. That is what counts a shared
source once.

First order in the covariance. The mean carries the second-order term of composing correlated twists,
log(Exp(a) Exp(b)) = a + b + [a, b]/2 + ... (Baker, Campbell, Hausdorff; Barfoot, State Estimation for
Robotics, 2017, 7.1.7).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from handfast.spatial.se3 import Array

Places = frozenset[str]


class Instance(NamedTuple):
    """One draw of one error source. drawn: the element it was drawn in, "" if it holds for the build."""

    source: str
    drawn: str = ""


# Variances (6,) of one instance, its freedoms being independent of each other.
Variances = Callable[[Instance], Array]


@dataclass(frozen=True, eq=False, slots=True)
class Form:
    """jacobians: (m, 6) of each instance; mean (m,); places: where in the process each instance came in."""

    jacobians: Mapping[Instance, Array]
    mean: Array
    places: Mapping[Instance, Places] = field(default_factory=dict)

    @property
    def rows(self) -> int:
        """Number of rows, m."""
        return len(self.mean)


def nothing(rows: int = 6) -> Form:
    """No deviation at all."""
    return Form({}, np.zeros(rows))


def mapped(matrix: Array, form: Form) -> Form:
    """A form with a matrix (n, m) applied; instances that no longer matter are dropped."""
    if not form.jacobians:
        return Form({}, matrix @ form.mean)
    # All at once: a form has hundreds of instances, and a chain maps it hundreds of times.
    stacked = matrix @ np.array(list(form.jacobians.values()))
    moves = stacked.any(axis=(1, 2)).tolist()
    every = zip(form.jacobians, stacked, moves, strict=True)
    kept = {k: J for k, J, moving in every if moving}
    places = form.places if len(kept) == len(moves) else {k: form.places[k] for k in kept}
    return Form(kept, matrix @ form.mean, places)


def added(a: Form, b: Form) -> Form:
    """Sum of two forms, instance by instance."""
    jacobians, places = dict(a.jacobians), dict(a.places)
    for k, J in b.jacobians.items():
        jacobians[k] = jacobians[k] + J if k in jacobians else J
        places[k] = places[k] | b.places[k] if k in places else b.places[k]
    return Form(jacobians, a.mean + b.mean, places)


def composed(a: Form, b: Form, variances: Variances) -> Form:
    """The twist of Exp(a) Exp(b): the sum, and half the expected bracket where a and b share instances."""
    total = added(a, b)
    shared = cross_covariance(a, b, variances)
    return Form(total.jacobians, total.mean + 0.5 * _expected_bracket(shared), total.places)


def cross_covariance(a: Form, b: Form, variances: Variances) -> Array:
    """E[a b^T], (rows of a, rows of b), first order."""
    shared = [k for k in a.jacobians if k in b.jacobians]
    if not shared:
        return np.zeros((a.rows, b.rows))
    of_a = np.array([a.jacobians[k] for k in shared]) * np.array([variances(k) for k in shared])[:, None]
    of_b = np.array([b.jacobians[k] for k in shared])
    # (k, m, 6) side by side: one product instead of one for each.
    flat_a, flat_b = (np.moveaxis(x, 0, 1).reshape(x.shape[1], -1) for x in (of_a, of_b))
    return np.asarray(flat_a @ flat_b.T)


def covariance(form: Form, variances: Variances) -> Array:
    """Covariance (m, m) of a form."""
    out = cross_covariance(form, form, variances)
    return 0.5 * (out + out.T)


def only(form: Form, wanted: Callable[[Instance], bool]) -> Form:
    """The part of a form that comes from the wanted instances; its mean is that of the whole."""
    jacobians = {k: J for k, J in form.jacobians.items() if wanted(k)}
    return Form(jacobians, form.mean, {k: form.places[k] for k in jacobians})


def _expected_bracket(cross: Array) -> Array:
    """E[ad(a) b] = (phi_a x rho_b + rho_a x phi_b, phi_a x phi_b) from E[a b^T] (6, 6), translation first."""
    rho, phi = slice(0, 3), slice(3, 6)
    moved = expected_product(cross[phi, rho]) + expected_product(cross[rho, phi])
    return np.concatenate([moved, expected_product(cross[phi, phi])])


def expected_product(cross: Array) -> Array:
    """E[u x v] (3,) from E[u v^T] (3, 3)."""
    return np.array([cross[1, 2] - cross[2, 1], cross[2, 0] - cross[0, 2], cross[0, 1] - cross[1, 0]])
