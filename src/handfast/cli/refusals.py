"""The errors by which the layers below refuse an input: each says the place, what was expected and found."""

from __future__ import annotations

from handfast.belief.covariance import CovarianceError
from handfast.execution.cell import CellError
from handfast.files.errors import RecordError
from handfast.geometry.mesh import MeshError
from handfast.kinematics.chain import ArmError
from handfast.planning.resumed import NoWayError
from handfast.proof.arm_model import ArmError as ProofArmError
from handfast.proof.stl import MeshError as ProofMeshError
from handfast.trials.cluster import ClusterError
from handfast.uncertainty.refusal import BudgetError
from handfast.workflow.changed_errors import WhatIfError
from handfast.workflow.compare import MismatchError
from handfast.workflow.not_proven import NotProvenError

REFUSALS = (
    RecordError, MeshError, ArmError, ProofArmError, ProofMeshError, BudgetError, MismatchError,
    NotProvenError, NoWayError, CellError, WhatIfError, CovarianceError, ClusterError,
)  # fmt: skip
