"""A robot arm: a serial chain read from a URDF, or drawn from the lengths of a data sheet."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.model.hose import Hose
from handfast.model.layout import Layout
from handfast.spatial.pose import Pose


@dataclass(frozen=True, slots=True)
class Arm:
    """One arm of the cell, named by the hand it plays.

    urdf: path in the project folder, or package:NAME/path, "" for an arm known by its layout; root, tip: link
    names that bound the chain; base: T_world_root; home: rest configuration (n,) [rad]; max_acceleration (n,)
    [rad/s2]; speed: share of the velocity limits used; repeatability [m]: ISO 9283 RP of its data sheet;
    layout: lengths instead of a URDF; hoses: what hangs on its links; measured_from: the arm from which it
    was measured where this one stands, "" if it was put there by itself: what the other is off by it is off
    by too, as one body with it, and what acts on its own base is off that.
    """

    name: str
    urdf: str
    root: str
    tip: str
    base: Pose
    home: tuple[float, ...]
    max_acceleration: tuple[float, ...]
    speed: float = 1.0
    repeatability: float = 0.03e-3
    layout: Layout | None = None
    hoses: tuple[Hose, ...] = ()
    measured_from: str = ""
