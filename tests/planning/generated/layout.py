"""Where things stand: posts and the nest, apart from each other, in front of the arms."""

from __future__ import annotations

import numpy as np
from tests.planning.generated.recipe import Piece, Stand, Wall

NEST = 15.0
"""Thickness of the plate that the base lies on."""
Rng = np.random.Generator
Spot = tuple[float, float]


def nest(x: float, y: float) -> Stand:
    """The plate under the base."""
    return Stand("nest", "nest", x, y, (190.0, 130.0, NEST), holds="base")


def post(piece: Piece, spot: Spot, high: float = 40.0, yaw: float = 0.0) -> Stand:
    """The post of a piece."""
    size = (*piece.foot, high)
    return Stand(f"post_{piece.name}", "tray", *spot, size, piece.name, yaw, piece.well, piece.seat)


def spots(rng: Rng, count: int, x: Spot, y: Spot, taken: list[Spot], apart: float) -> list[Spot]:
    """Places drawn uniformly, `apart` from each other and from those taken."""
    out: list[Spot] = []
    for attempt in range(20_000):
        if len(out) == count:
            return out
        if attempt % 200 == 199:
            out.clear()  # a bad beginning
        new = (round(float(rng.uniform(*x)), 1), round(float(rng.uniform(*y)), 1))
        if all(np.hypot(new[0] - a, new[1] - b) >= apart for a, b in [*taken, *out]):
            out.append(new)
    raise ValueError(f"no room for {count} places {apart} mm apart in {x}, {y}")


def walls(rng: Rng, count: int, around: list[Spot], middle: Spot) -> list[Wall]:
    """Walls of random height, each 55 to 110 mm beside one of the places or along the nest's plate."""
    out = []
    for i in range(count):
        thick, long, high = 12.0, float(rng.uniform(30, 120)), round(float(rng.uniform(20, 130)), 1)
        if rng.random() < 0.3:  # along a side of the nest
            side = float(rng.choice([-1.0, 1.0]))
            out.append(Wall(f"wall_{i}", middle[0], middle[1] + side * 75, (long, thick, high)))
            continue
        x, y = around[int(rng.integers(len(around)))]
        angle, away = rng.uniform(0, 2 * np.pi), rng.uniform(55, 110)
        size = (thick, long) if abs(np.cos(angle)) > 0.7 else (long, thick)
        at = round(float(x + away * np.cos(angle)), 1), round(float(y + away * np.sin(angle)), 1)
        out.append(Wall(f"wall_{i}", *at, (*size, high)))
    return out


def cage(stand: Stand, size: tuple[float, float, float], gap: float, low: float, lid: float) -> list[Wall]:
    """Walls `gap` around a block of that size that stands at z = low over a post; a lid `lid` above it."""
    x, y, t = size[0] / 2 + gap, size[1] / 2 + gap, 6.0
    high = low + size[2] + (lid if lid > 0 else 0.0)
    out = [
        Wall("side_l", stand.x - x - t / 2, stand.y, (t, 2 * y + 2 * t, high)),
        Wall("side_r", stand.x + x + t / 2, stand.y, (t, 2 * y + 2 * t, high)),
        Wall("side_f", stand.x, stand.y - y - t / 2, (2 * x, t, high)),
        Wall("side_b", stand.x, stand.y + y + t / 2, (2 * x, t, high)),
    ]
    if lid > 0:
        out.append(Wall("lid", stand.x, stand.y, (2 * x + 2 * t, 2 * y + 2 * t, 8.0), high))
    return out
