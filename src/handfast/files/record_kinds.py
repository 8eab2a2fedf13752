"""The kinds of record that are saved, and the schema number of each."""

from __future__ import annotations

from typing import Any

from handfast.model.basis import Basis
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.model.no_plan import NoPlan
from handfast.model.proof import Proof
from handfast.model.reliability import Reliability
from handfast.model.run_log import RunLog
from handfast.model.source_proposal import SourceProposals
from handfast.model.trial import TrialReport

KINDS: dict[str, tuple[type[Any], int]] = {
    "chart": (Chart, 3),
    "chart-basis": (Basis, 1),
    "no-plan": (NoPlan, 2),
    "proof": (Proof, 1),
    "ledger": (Ledger, 6),
    "trial-report": (TrialReport, 2),
    "reliability": (Reliability, 1),
    "run-log": (RunLog, 2),
    "source-proposals": (SourceProposals, 1),
}
"""The body's type and schema number, which goes up when fields of the body change their meaning or go."""


def kind_of(body_type: type[Any]) -> str:
    """The kind of a body. Raises KeyError for a type that is not saved as a record."""
    for kind, (body, _) in KINDS.items():
        if body is body_type:
            return kind
    raise KeyError(f"{body_type.__name__} is not saved as a record; there are: {', '.join(KINDS)}")
