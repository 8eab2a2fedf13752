"""URDFs written in the tests, and their answers by pinocchio's own reader."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pinocchio as pin
from numpy.typing import NDArray

from handfast.model.arm import Arm
from handfast.spatial.pose import Pose

Array = NDArray[np.float64]
FIRST_FIT = Path(__file__).parents[2] / "projects" / "first-fit"
H = np.pi / 2
# Paul & Zhang 1986; Corke: the six-axis textbook arm, standard Denavit-Hartenberg (d, a, alpha).
TEXTBOOK = (
    (0, 0, H), (0, 0.4318, 0), (0.15005, 0.0203, -H), (0.4318, 0, H), (0, 0, -H), (0, 0, 0),
)  # fmt: skip


@dataclass(frozen=True)
class Joint:
    """One joint of a serial chain, as its URDF says it."""

    kind: str = "revolute"
    xyz: tuple[float, ...] = (0, 0, 0)
    rpy: tuple[float, ...] = (0, 0, 0)
    axis: tuple[float, ...] | None = (0, 0, 1)
    limit: str = 'lower="-3" upper="3" velocity="2" effort="1"'
    solid: str = ""


def written(joints: list[Joint], more: str = "", base: str = "") -> str:
    """Links l0, l1, ... with one joint between neighbours; more: further elements; base: inside the first
    link."""
    words = ['<robot name="written">', f'<link name="l0">{base}</link>']
    for i, j in enumerate(joints, 1):
        axis = "" if j.axis is None else f'<axis xyz="{numbers(j.axis)}"/>'
        words.append(
            f'<link name="l{i}">{j.solid}</link><joint name="j{i}" type="{j.kind}">'
            f'<parent link="l{i - 1}"/><child link="l{i}"/>'
            f'<origin xyz="{numbers(j.xyz)}" rpy="{numbers(j.rpy)}"/>{axis}<limit {j.limit}/></joint>'
        )
    return "\n".join([*words, more, "</robot>"])


def numbers(values: tuple[float, ...]) -> str:
    return " ".join(repr(float(v)) for v in values)


def arm(urdf: str, tip: str, n: int, root: str = "l0", base: Pose | None = None) -> Arm:
    return Arm("left", urdf, root, tip, base or Pose(), (0.0,) * n, (5.0,) * n)


def textbook() -> str:
    """The textbook arm: joint i stands where the rows before it lead; the last row leads to the tip l7."""
    frames = [(0.0, 0.0, 0.0), *TEXTBOOK]
    joints = [Joint(xyz=(a, 0, d), rpy=(alpha, 0, 0)) for d, a, alpha in frames]
    joints[-1] = Joint("fixed", joints[-1].xyz, joints[-1].rpy)
    return written(joints)


def by_pinocchio(path: Path, root: str, tip: str, joints: tuple[str, ...], q: Array) -> Array:
    """T_root_tip (4, 4) at q (n,), as pinocchio reads and reckons it."""
    model = pin.buildModelFromUrdf(str(path))
    data = model.createData()
    pin.forwardKinematics(model, data, placed(model, joints, q))
    pin.updateFramePlacements(model, data)
    return np.asarray(
        (data.oMf[model.getFrameId(root)].inverse() * data.oMf[model.getFrameId(tip)]).homogeneous
    )


def placed(model: pin.Model, joints: tuple[str, ...], q: Array) -> Array:
    """q (n,) where pinocchio keeps it; a continuous joint is kept as cosine and sine there."""
    full = pin.neutral(model)
    for name, value in zip(joints, q, strict=True):
        joint = model.joints[model.getJointId(name)]
        full[joint.idx_q : joint.idx_q + joint.nq] = (
            value if joint.nq == 1 else (np.cos(value), np.sin(value))
        )
    return np.asarray(full)
