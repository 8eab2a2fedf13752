"""A pattern in which several screws are tightened together."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Stage:
    """One round over all screws of the pattern: until `turns` [rad] are made, or until `torque` [N m] is
    reached."""

    turns: float | None = None
    torque: float | None = None


@dataclass(frozen=True, slots=True)
class Tightening:
    """screws: names of screw mates in the order of each round (crosswise, as written); stages: rounds, the
    last one to the final torque. A part whose `held_until` names one of these screws is let go when that
    screw has reached its first torque (snug)."""

    name: str
    screws: tuple[str, ...]
    stages: tuple[Stage, ...]
