"""One cause of being off: where it acts, how large per freedom, and how often it changes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Changes = Literal["installation", "shift", "lot", "part", "cycle"]
Distribution = Literal["normal", "uniform", "truncated"]
_GIVING = (("arm", "flange"), ("gripper", "fingers"))
Six = tuple[float, float, float, float, float, float]


@dataclass(frozen=True, slots=True)
class ErrorSource:
    """An error at one edge of the frame graph: `T_actual = T_nominal @ Exp(xi)`, xi in the frame named by
    `acts_on`.

    acts_on, one of:
      "arm.NAME.base"           where an arm really stands (world -> arm root)
      "arm.NAME.tip"            how well the arm reaches a pose (repeatability, arm field)
      "arm.NAME.flange"         how the arm gives at its flange under load, in the flange's frame
      "gripper.NAME.jaw"        where the jaws really close, in the grip frame
      "gripper.NAME.fingers"    how the fingers give under load, in the grip frame
      "grasp.NAME.free"         what a closing grasp of that gripper leaves free (free directions only)
      "holder.NAME"             where a holder really stands
      "place.HOLDER.PLACE"      how a part lies in its place
      "feature.PART.FEATURE"    a feature off its drawn frame
      "tool.NAME.bit"           runout of a bit
      "camera.NAME"             a camera's estimate
      "touch.ARM"               a guarded move of that arm, along it: stop jitter, threshold noise [m]

    sigma: standard deviation per freedom, x y z [m], then rotations [rad] (for uniform: half-width / sqrt 3;
    for truncated: of the parent normal, cut at +-limit sigma). correlation_length [m]: of an arm field; 0:
    none. assumed: a default nobody measured.

    compliance: of what gives, x y z [m/N], then rotations [rad/(N m)], about the frame's origin: the
    deviation is compliance times the load there, known at each element; sigma is then of the compliance, in
    its units.
    """

    name: str
    acts_on: str
    sigma: Six
    changes: Changes
    distribution: Distribution = "normal"
    truncation: float = 3.0
    correlation_length: float = 0.0
    assumed: bool = False
    compliance: Six = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0)

    @property
    def gives(self) -> bool:
        """Whether it is of something that gives under load."""
        return is_compliant(self.acts_on)


def is_compliant(acts_on: str) -> bool:
    """Whether what stands there gives under load: a flange or fingers."""
    return (acts_on.partition(".")[0], acts_on.rpartition(".")[2]) in _GIVING
