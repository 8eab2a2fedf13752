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

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.uncertainty.instances import Draws, Flags, Instance, Places, Variances


class Form:
    """A deviation of m rows, never changed once made.

    flat (m, 6 n): Jacobians of the first n instances of `draws` side by side (six columns each); there (n,):
    which of them the form has; mean (m,); marks: where in the process each came in.
    """

    __slots__ = ("draws", "flat", "marks", "mean", "there")

    def __init__(
        self,
        jacobians: Mapping[Instance, Array],
        mean: Array,
        places: Mapping[Instance, Places] | None = None,
        draws: Draws | None = None,
    ) -> None:
        """jacobians: (m, 6) of each instance; places: where each came in; draws: None for some of its own."""
        self.draws = Draws() if draws is None else draws
        self.mean = mean
        at = [self.draws.at(k) for k in jacobians]
        count = max(at, default=-1) + 1
        self.there = np.zeros(count, dtype=bool)
        self.there[at] = True
        blocks = np.zeros((len(mean), count, 6))
        for i, J in zip(at, jacobians.values(), strict=True):
            blocks[:, i] = J
        self.flat = blocks.reshape(len(mean), -1)
        self.marks = 0
        for k, where in (places or {}).items():
            for place in where:
                self.marks |= self.draws.mark(self.draws.at(k), place)

    @staticmethod
    def of(draws: Draws, flat: Array, mean: Array, there: Flags, marks: int) -> Form:
        """From what a form is made of."""
        out = Form.__new__(Form)
        out.draws, out.flat, out.mean, out.there, out.marks = draws, flat, mean, there, marks
        return out

    @staticmethod
    def weighted(draws: Draws, weights: Sequence[tuple[Instance, float]], place: str) -> Form:
        """Six rows: of each instance its own six freedoms, times its weight."""
        at = [draws.at(k) for k, _ in weights]
        count = max(at, default=-1) + 1
        blocks, there, marks = np.zeros((6, count, 6)), np.zeros(count, dtype=bool), 0
        there[at] = True
        np.einsum("rnr->nr", blocks)[at] = np.array([w for _, w in weights])[:, None]
        for i in at:
            marks |= draws.mark(i, place)
        return Form.of(draws, blocks.reshape(6, -1), np.zeros(6), there, marks)

    @property
    def rows(self) -> int:
        """Number of rows, m."""
        return len(self.mean)

    @property
    def keys(self) -> list[Instance]:
        """The instances that the form has."""
        return [self.draws.instances[i] for i in np.flatnonzero(self.there)]

    @property
    def jacobians(self) -> dict[Instance, Array]:
        """(m, 6) of each instance that the form has."""
        blocks = self.flat.reshape(self.rows, -1, 6)
        return {self.draws.instances[i]: blocks[:, i] for i in np.flatnonzero(self.there)}

    @property
    def places(self) -> dict[Instance, Places]:
        """Where each instance that the form has came in."""
        marked = self.draws.places(self.marks)
        return {k: marked.get(k, frozenset()) for k in self.keys}

    def onto(self, draws: Draws) -> Form:
        """The same, told in other draws."""
        return self if self.draws is draws else Form(self.jacobians, self.mean, self.places, draws)


def nothing(rows: int = 6) -> Form:
    """No deviation at all."""
    return Form({}, np.zeros(rows))


def mapped(matrix: Array, form: Form) -> Form:
    """A form with a matrix (n, m) applied; instances that no longer matter are dropped."""
    return pruned(Form.of(form.draws, matrix @ form.flat, matrix @ form.mean, form.there, form.marks))


def pruned(form: Form) -> Form:
    """The same without the instances that no longer matter."""
    moves = form.flat.any(axis=0).reshape(-1, 6).any(axis=1)
    there, marks = form.there & moves, form.marks
    if np.count_nonzero(there) == np.count_nonzero(form.there):
        return form
    for i in np.flatnonzero(form.there & ~moves):
        marks &= ~form.draws.marks_of(int(i))
    return Form.of(form.draws, form.flat, form.mean, there, marks)


def moved(T: Array, form: Form) -> Form:
    """A twist told in another frame: Ad(T) applied, T the pose (4, 4) of the old frame in the new one."""
    matrix = se3.adjoint(T)
    return Form.of(form.draws, matrix @ form.flat, matrix @ form.mean, form.there, form.marks)


def reverse(form: Form) -> Form:
    """The deviation the other way."""
    return Form.of(form.draws, -form.flat, -form.mean, form.there, form.marks)


def added(a: Form, b: Form) -> Form:
    """Sum of two forms, instance by instance."""
    a, b = _alike(a, b)
    if len(a.there) < len(b.there):
        a, b = b, a
    flat, there = a.flat.copy(), a.there.copy()
    flat[:, : b.flat.shape[1]] += b.flat
    there[: len(b.there)] |= b.there
    return Form.of(a.draws, flat, a.mean + b.mean, there, a.marks | b.marks)


def composed(a: Form, b: Form, variances: Variances) -> Form:
    """The twist of Exp(a) Exp(b): the sum, and half the expected bracket where a and b share instances."""
    total = added(a, b)
    total.mean = total.mean + 0.5 * _expected_bracket(cross_covariance(a, b, variances))
    return total


def cross_covariance(a: Form, b: Form, variances: Variances) -> Array:
    """E[a b^T], (rows of a, rows of b), first order."""
    a, b = _alike(a, b)
    count = min(len(a.there), len(b.there))
    shared = a.there[:count] & b.there[:count]
    if not shared.any():
        return np.zeros((a.rows, b.rows))
    squared = a.draws.squared(variances, shared)
    return np.asarray((a.flat[:, : 6 * count] * squared) @ b.flat[:, : 6 * count].T)


def covariance(form: Form, variances: Variances) -> Array:
    """Covariance (m, m) of a form."""
    out = cross_covariance(form, form, variances)
    return 0.5 * (out + out.T)


def side_by_side(forms: Sequence[Form], variances: Variances) -> tuple[Draws, Array]:
    """What the unit draws (6 n) do to all rows of the forms, one form under the other, and whose they are."""
    draws = next((f.draws for f in forms if len(f.there)), Draws())
    forms = [f.onto(draws) for f in forms]
    count = max((len(f.there) for f in forms), default=0)
    out = np.zeros((sum(f.rows for f in forms), 6 * count))
    start, there = 0, np.zeros(count, dtype=bool)
    for f in forms:
        there[: len(f.there)] |= f.there
        out[start : start + f.rows, : f.flat.shape[1]] = f.flat
        start += f.rows
    return draws, out * np.sqrt(draws.squared(variances, there))


def by_source(row: Form, variances: Variances) -> dict[str, float]:
    """What each source that a form of one row has brings to its variance."""
    effects = row.flat[0] ** 2 * row.draws.squared(variances, row.there)
    found: dict[str, float] = {}
    for i, variance in zip(*_of_instances(row, effects), strict=True):
        name = row.draws.instances[i].source
        found[name] = found.get(name, 0.0) + variance
    return found


def _of_instances(row: Form, effects: Array) -> tuple[list[int], list[float]]:
    at = np.flatnonzero(row.there)
    return at.tolist(), effects.reshape(-1, 6).sum(axis=1)[at].tolist()


def only(form: Form, wanted: Callable[[Instance], bool]) -> Form:
    """The part of a form that comes from the wanted instances; its mean is that of the whole."""
    there, marks = form.there.copy(), form.marks
    for i in np.flatnonzero(there):
        if not wanted(form.draws.instances[i]):
            there[i] = False
            marks &= ~form.draws.marks_of(int(i))
    return Form.of(form.draws, form.flat * np.repeat(there, 6), form.mean, there, marks)


def _alike(a: Form, b: Form) -> tuple[Form, Form]:
    """Both told in the same draws."""
    if a.draws is b.draws:
        return a, b
    return (a, b.onto(a.draws)) if len(a.there) else (a.onto(b.draws), b)


def _expected_bracket(cross: Array) -> Array:
    """E[ad(a) b] = (phi_a x rho_b + rho_a x phi_b, phi_a x phi_b) from E[a b^T] (6, 6), translation first."""
    rho, phi = slice(0, 3), slice(3, 6)
    moved = expected_product(cross[phi, rho]) + expected_product(cross[rho, phi])
    return np.concatenate([moved, expected_product(cross[phi, phi])])


def expected_product(cross: Array) -> Array:
    """E[u x v] (3,) from E[u v^T] (3, 3)."""
    return np.array([cross[1, 2] - cross[2, 1], cross[2, 0] - cross[0, 2], cross[0, 1] - cross[1, 0]])
