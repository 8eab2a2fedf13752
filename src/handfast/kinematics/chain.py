"""Loading the chain of an arm, however it is described."""

from __future__ import annotations

from handfast.kinematics.layout_chain import layout_chain
from handfast.kinematics.serial_chain import Chain
from handfast.kinematics.urdf_chain import urdf_chain
from handfast.kinematics.urdf_values import ArmError
from handfast.model.arm import Arm

__all__ = ["ArmError", "Chain", "load_chain"]


def load_chain(arm: Arm, folder: str) -> Chain:
    """The chain of an arm of the project in that folder. Raises ArmError."""
    return urdf_chain(arm, folder) if arm.layout is None else layout_chain(arm, arm.layout)
