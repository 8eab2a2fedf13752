"""What is in a drawn part: written down by the generator, never read from the drawing."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np


@dataclass(frozen=True)
class Truth:
    """One feature [mm]. at: mouth, tip or middle; z as docs/conventions.md has it; other: the second mouth
    or tip of something that goes through, or None; chamfer: radial width and angle from the face [deg] at
    `at`."""

    kind: str
    at: np.ndarray
    z: np.ndarray
    diameter: float | None = None
    length: float | None = None
    size: tuple[float, float] | None = None
    form: str = ""
    chamfer: tuple[float, float] | None = None
    other: np.ndarray | None = None
    thread: str | None = None
    teeth: int | None = None
    module: float | None = None

    def moved(self, T: np.ndarray) -> Truth:
        def point(p: np.ndarray) -> np.ndarray:
            return np.asarray(T[:3, :3] @ p + T[:3, 3])

        other = None if self.other is None else point(self.other)
        return replace(self, at=point(self.at), z=T[:3, :3] @ self.z, other=other)


@dataclass(frozen=True)
class DrawnPart:
    """name; shape [mm]; features; grips: widths between jaws [mm]; spline: whether it is drawn with general
    surfaces; unit of its file; decimals: to which the points of its file are rounded, or None."""

    name: str
    shape: object
    features: tuple[Truth, ...]
    grips: tuple[float, ...]
    spline: bool = False
    unit: str = "MM"
    decimals: int | None = None
