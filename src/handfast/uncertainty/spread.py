"""Reading a spread off an error form."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from handfast.model.ledger import Spread
from handfast.spatial.se3 import Array
from handfast.uncertainty.disc_probability import principal_axes
from handfast.uncertainty.error_form import Form, covariance, expected_product, only
from handfast.uncertainty.instances import Instance, Variances

LATERAL, TILT = (0, 1), (3, 4)


def spread_of(form: Form, variances: Variances, wanted: Callable[[Instance], bool] | None = None) -> Spread:
    """Covariance of a form (of the wanted instances) and what is read off it; the mean to second order.

    The mean's first three freedoms are where the origin is on average: a part that may turn lies back on
    average, E[rho + phi x rho/2]. 5 deg over 0.5 m bring 3.8 mm, which no covariance shows.
    """
    of = form if wanted is None else only(form, wanted)
    P = covariance(of, variances)
    mean = form.mean.copy()
    mean[:3] += 0.5 * expected_product(P[3:, :3])
    minor, major = (float(s) for s in np.sqrt(principal_axes(block(P, LATERAL))[0]))
    tilt = float(np.sqrt(principal_axes(block(P, TILT))[0][1]))
    return Spread(
        mean=tuple(float(m) for m in mean),
        covariance=tuple(tuple(float(v) for v in row) for row in P),
        sigma_major=major,
        sigma_minor=minor,
        sigma_angle=tilt,
    )


def worse_axis(form: Form, variances: Variances) -> Array:
    """Unit row (6,) along the lateral axis of the larger spread; its sign is fixed for repeatability."""
    axis = principal_axes(block(covariance(form, variances), LATERAL))[1][:, 1]
    axis = axis if axis[np.argmax(np.abs(axis))] > 0 else -axis
    return np.array([axis[0], axis[1], 0.0, 0.0, 0.0, 0.0])


def block(P: Array, freedoms: tuple[int, ...]) -> Array:
    """The part of a covariance that belongs to some freedoms."""
    return np.asarray(P[np.ix_(freedoms, freedoms)])
