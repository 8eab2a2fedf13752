"""Touches that contradict what is known: the test of the innovation.

Under a true model the squared surprise in units of its covariance is chi-square with as many freedoms as
there are readings (Bar-Shalom, Li, Kirubarajan 2001, section 5.4, from memory).
"""

from __future__ import annotations

from handfast.belief.consistency import chi_square_quantile, normalised_square
from handfast.belief.update import Updated

# A true reading is called a contradiction once in a thousand touches. Our own choice; no source.
CONFIDENCE = 0.999


def contradicts(found: Updated, confidence: float = CONFIDENCE) -> bool:
    """Whether the readings of an update lie further off than chance explains: something else was touched, the
    part slipped, or the errors are larger than stated."""
    return normalised_square(found.surprise, found.surprise_covariance) > chi_square_quantile(
        confidence, len(found.surprise)
    )
