"""Whether errors are as large as their covariance says: squared errors in units of it, and the chi-square
band.

Source: Y. Bar-Shalom, X. R. Li, T. Kirubarajan, Estimation with Applications to Tracking and Navigation
(2001), section 5.4 (from memory).
"""

from __future__ import annotations

from statistics import NormalDist

import numpy as np

from handfast.spatial.se3 import Array


def normalised_square(error: Array, covariance: Array) -> float:
    """e^T P^-1 e of an error (n,) with covariance (n, n): chi-square with n freedoms if P is right (NEES,
    NIS).
    """
    scale = 1 / np.sqrt(np.diag(covariance))
    scaled = error * scale
    return float(scaled @ np.linalg.solve(covariance * np.outer(scale, scale), scaled))


def chi_square_quantile(probability: float, freedoms: int) -> float:
    """Quantile of the chi-square distribution: exact for one freedom, else by Wilson and Hilferty.

    Source: E. B. Wilson, M. M. Hilferty, The distribution of chi-square, PNAS 17 (1931) 684-688: within 0.4
    % from ten freedoms on, better than 1e-4 from a thousand on.
    """
    if freedoms == 1:
        return NormalDist().inv_cdf(0.5 + 0.5 * probability) ** 2
    part = 2 / (9 * freedoms)
    z = NormalDist().inv_cdf(probability)
    return float(freedoms * max(1 - part + z * part**0.5, 0.0) ** 3)


def mean_square_band(freedoms: int, count: int, confidence: float = 0.999) -> tuple[float, float]:
    """Where the mean of `count` normalised squares of `freedoms` freedoms lies with this confidence,
    two-sided.
    """
    tail, total = 0.5 * (1 - confidence), freedoms * count
    return chi_square_quantile(tail, total) / count, chi_square_quantile(1 - tail, total) / count
