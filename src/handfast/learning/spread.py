"""Spread of repeated readings, and how well it is known.

Sigma from n - 1 freedoms; its interval by chi-square (ISO 3534-1 for the terms; NIST/SEMATECH e-Handbook
7.2.3.1 for the interval, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import NormalDist

from handfast.belief.consistency import chi_square_quantile

CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True)
class Spread:
    """sigma and its interval; freedoms: it rests on; count: readings."""

    sigma: float
    interval: tuple[float, float]
    freedoms: int
    count: int


def pooled(groups: Iterable[Sequence[float]], confidence: float = CONFIDENCE) -> Spread | None:
    """Spread within groups of readings, each about its own mean; None if no group has two."""
    squares, freedoms, count = 0.0, 0, 0
    for group in groups:
        if len(group) > 1:
            mean = sum(group) / len(group)
            squares += sum((v - mean) ** 2 for v in group)
            freedoms += len(group) - 1
            count += len(group)
    return None if freedoms == 0 else spread(math.sqrt(squares / freedoms), freedoms, count, confidence)


def spread(sigma: float, freedoms: int, count: int, confidence: float = CONFIDENCE) -> Spread:
    """A sigma estimated with so many freedoms."""
    tail = 0.5 * (1 - confidence)
    high = chi_square_quantile(1 - tail, freedoms)
    low = max(chi_square_quantile(tail, freedoms), 1e-12)
    ends = sigma * math.sqrt(freedoms / high), sigma * math.sqrt(freedoms / low)
    return Spread(sigma, ends, freedoms, count)


def slope(
    times: Sequence[float], values: Sequence[float], confidence: float = CONFIDENCE
) -> tuple[float, float]:
    """Slope of a straight line through the values, and half the width of its interval (normal: for 20 values
    and more). Raises ValueError for fewer than three."""
    if len(times) < 3:
        raise ValueError(f"expected at least three readings, found {len(times)}")
    t, v = sum(times) / len(times), sum(values) / len(values)
    square = sum((x - t) ** 2 for x in times)
    rise = sum((x - t) * (y - v) for x, y in zip(times, values, strict=True)) / square
    left = sum((y - v - rise * (x - t)) ** 2 for x, y in zip(times, values, strict=True)) / (len(times) - 2)
    return rise, NormalDist().inv_cdf(0.5 + 0.5 * confidence) * math.sqrt(left / square)
