"""Labels beside a time axis that must not lie on each other."""

from __future__ import annotations


def spread(wanted: list[float], pitch: float) -> list[float]:
    """Places in the given order, at least `pitch` apart, as near to the wanted ones as that allows.

    Least squares with an order constraint: labels that collide move together to their common mean (pool
    adjacent violators; Barlow et al., Statistical Inference under Order Restrictions, 1972; from memory).
    """
    blocks: list[tuple[float, int]] = []  # mean of (wanted - i * pitch), how many
    for i, place in enumerate(wanted):
        mean, count = place - i * pitch, 1
        while blocks and blocks[-1][0] > mean:
            before, many = blocks.pop()
            mean, count = (mean * count + before * many) / (count + many), count + many
        blocks.append((mean, count))
    means = [mean for mean, count in blocks for _ in range(count)]
    return [mean + i * pitch for i, mean in enumerate(means)]
