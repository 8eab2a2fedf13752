"""What an executor can ask of a cell: simulated, recorded or real, they look the same.

Every call returns when what it asked for is done. A result tells what happened; a cell raises only
`CellError`, for a command it cannot carry out at all. Forces and speeds are process values, never safety
limits.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, Protocol

from handfast.model.motion import Motion
from handfast.model.strategy import Strategy
from handfast.spatial.pose import Pose, Vec3

Until = Literal["torque", "turns"]


class CellError(RuntimeError):
    """A command that the cell cannot carry out; the message says which and what a person can do."""


class ObstructedError(CellError):
    """An arm was stopped on its way by something that should not be there."""


@dataclass(frozen=True, slots=True)
class GuardedResult:
    """contact: whether something was met before travel + overtravel; travel [m]: from the start to
    contact."""

    contact: bool
    travel: float


@dataclass(frozen=True, slots=True)
class Felt:
    """What the hand felt at one time of an insertion. after [s]: it began; along, across: force on the line
    and square to it [N]; moment [N m]."""

    after: float
    along: float
    across: float
    moment: float


@dataclass(frozen=True, slots=True)
class InsertResult:
    """ok, cause ("" if ok); travel [m]: done along the motion's line; peak_force [N]: along it; felt: on the
    way, in order of time; empty where the cell does not say."""

    ok: bool
    cause: str
    travel: float
    peak_force: float
    felt: tuple[Felt, ...] = ()


@dataclass(frozen=True, slots=True)
class DriveResult:
    """ok, cause ("" if ok); torque [N m] and angle [rad] reached."""

    ok: bool
    cause: str
    torque: float
    angle: float


@dataclass(frozen=True, slots=True)
class ArmState:
    """q: configuration (n,) [rad]; width: between the pads [m]."""

    q: tuple[float, ...]
    width: float


class Cell(Protocol):
    """Arms are named as in the project; directions and poses are in the world frame, in SI units."""

    @property
    def name(self) -> str:
        """What kind of cell this is, for the log."""
        ...

    def locate(self, part: str, region: str) -> Pose | None:
        """Find a part by camera in a region ("place.HOLDER.PLACE"): T_world_part, None if it is not seen."""
        ...

    def move(self, arm: str, motion: Motion) -> None:
        """Go along a timed path; the arm stands where it starts. Raises ObstructedError if something stops
        it: it then stands where it was stopped."""
        ...

    def grip(self, arm: str, width: float, force: float) -> float:
        """Close the jaws until `force` [N] holds, around `width` [m]; the width they came to [m]."""
        ...

    def release(self, arm: str, width: float) -> None:
        """Open the jaws to a width [m]."""
        ...

    def guarded_move(
        self, arm: str, direction: Vec3, travel: float, overtravel: float, force: float, speed: float
    ) -> GuardedResult:
        """Move straight along `direction` (unit) until the contact force [N], at most travel + overtravel
        [m]; then go back to where it began. speed [m/s]."""
        ...

    def insert(
        self, arm: str, motion: Motion, force_limit: float, strategy: Strategy | None = None
    ) -> InsertResult:
        """Go along a straight motion with the hand compliant, to its end, which is the depth limit, or until
        the force along it exceeds the limit [N]; by a strategy where one is given. The hand stays where it
        ended."""
        ...

    def drive(
        self,
        arm: str,
        motion: Motion,
        torque: float,
        turns: float,
        strategy: Strategy | None = None,
        until: Until = "torque",
    ) -> DriveResult:
        """Turn the spindle of the tool in this hand while the hand follows the motion, until the torque [N m]
        is reached; turns [rad]: expected, one turn more at most. until "turns": stop once they are done, by
        the torque at the latest. Begun by a strategy where one is given."""
        ...

    def turn(self, arm: str, angle: float) -> None:
        """Turn the spindle of the tool in this hand slowly by an angle [rad] about the z out of its bit,
        nothing on the bit, the hand standing still."""
        ...

    def placed(self, item: str, region: str) -> None:
        """A person says that an item stands in a region now ("stand.ARTEFACT.STAND"), or is taken away
        (""). Nothing moves."""
        ...

    def zero_force(self, arm: str) -> None:
        """Take the present reading of the arm's force sensor as zero."""
        ...

    def force(self, arm: str) -> Vec3:
        """What the arm's force sensor reads [N], in its own frame; zeros if the arm carries none."""
        ...

    def set_payload(self, arm: str, mass: float) -> None:
        """Tell the arm what it carries [kg]."""
        ...

    def digital_out(self, name: str, value: bool) -> None:
        """Set an output. "TOOL.retain": the tool's means of keeping a screw on its bit."""
        ...

    def digital_in(self, name: str) -> bool:
        """Read an input. "TOOL.retained": a screw is on the bit."""
        ...

    def state(self, arm: str) -> ArmState:
        """Where the arm stands."""
        ...

    def clock(self) -> float:
        """The cell's time [s]."""
        ...

    def pause(self, seconds: float) -> None:
        """Wait."""
        ...
