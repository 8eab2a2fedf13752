"""The ledger's prediction beside the trials."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.model.ledger import Band


@dataclass(frozen=True, slots=True)
class MateAgreement:
    """predicted band and observed Wilson interval at the joint level, both of builds in which the mates
    before went in, and whether they overlap."""

    mate: str
    predicted: Band
    observed: tuple[float, float]
    tried: int
    succeeded: int
    agrees: bool


@dataclass(frozen=True, slots=True)
class Reliability:
    """with touches and without; level: confidence of each interval, so that all hold jointly with 95 %."""

    ledger_sha256: str
    trial_sha256: str
    with_touches: bool
    level: float
    mates: tuple[MateAgreement, ...]
    agrees: bool
