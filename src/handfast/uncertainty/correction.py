"""What touches have shown about a deviation, and the deviation that is left when it is taken back."""

from __future__ import annotations

from collections.abc import Sequence

from handfast.belief.update import gain_of_draws
from handfast.spatial.se3 import Array
from handfast.uncertainty.error_form import Form, added, mapped, side_by_side
from handfast.uncertainty.instances import Variances


def joint_gain(delta: Form, readings: Sequence[Form], variances: Variances) -> tuple[Array, Array]:
    """Gain (m, r) of r scalar readings for a deviation of m rows, and the covariance (r, r) of the readings.

    The state of the update is all the independent draws together; the touch's noise is one of them.
    Raises CovarianceError where readings cannot be told apart.
    """
    _, effects = side_by_side((delta, *readings), variances)
    return gain_of_draws(effects[: delta.rows], effects[delta.rows :])


def taken_back(delta: Form, K: Array, readings: Sequence[Form]) -> Form:
    """What is left: delta - K @ readings. Its covariance is Joseph's form of the update, since it is a form
    again.
    """
    for column, reading in enumerate(readings):
        delta = added(delta, mapped(-K[:, column : column + 1], reading))
    return delta
