"""What touches have shown about a deviation, and the deviation that is left when it is taken back."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from handfast.belief.update import gain_of_draws
from handfast.spatial.se3 import Array
from handfast.uncertainty.error_form import Form, Instance, Variances, added, mapped


def joint_gain(delta: Form, readings: Sequence[Form], variances: Variances) -> tuple[Array, Array]:
    """Gain (m, r) of r scalar readings for a deviation of m rows, and the covariance (r, r) of the readings.

    The state of the update is all the independent draws together; the touch's noise is one of them.
    Raises CovarianceError where readings cannot be told apart.
    """
    keys = sorted({k for form in (delta, *readings) for k in form.jacobians})
    sigma = np.sqrt(np.concatenate([variances(k) for k in keys])) if keys else np.zeros(0)
    return gain_of_draws(
        _stacked(delta, keys) * sigma, np.vstack([_stacked(r, keys) for r in readings]) * sigma
    )


def taken_back(delta: Form, K: Array, readings: Sequence[Form]) -> Form:
    """What is left: delta - K @ readings. Its covariance is Joseph's form of the update, since it is a form
    again.
    """
    for column, reading in enumerate(readings):
        delta = added(delta, mapped(-K[:, column : column + 1], reading))
    return delta


def _stacked(form: Form, keys: Sequence[Instance]) -> Array:
    missing = np.zeros((form.rows, 6))
    return np.hstack([form.jacobians.get(k, missing) for k in keys]) if keys else np.zeros((form.rows, 0))
