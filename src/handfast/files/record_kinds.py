"""The kinds of record that are saved, and the schema number of each."""

from __future__ import annotations

from importlib import import_module
from typing import Any

KINDS: dict[str, tuple[str, int]] = {
    "chart": ("handfast.model.chart.Chart", 3),
    "chart-basis": ("handfast.model.basis.Basis", 1),
    "no-plan": ("handfast.model.no_plan.NoPlan", 2),
    "proof": ("handfast.model.proof.Proof", 1),
    "ledger": ("handfast.model.ledger.Ledger", 6),
    "trial-report": ("handfast.model.trial.TrialReport", 2),
    "reliability": ("handfast.model.reliability.Reliability", 1),
    "run-log": ("handfast.model.run_log.RunLog", 2),
    "source-proposals": ("handfast.model.source_proposal.SourceProposals", 1),
}
"""The body's type by name, so that a verb loads those it handles and no others, and its schema number, which
goes up when fields of the body change their meaning or go."""


def kind_of(body_type: type[Any]) -> str:
    """The kind of a body. Raises KeyError for a type that is not saved as a record."""
    name = f"{body_type.__module__}.{body_type.__qualname__}"
    for kind, (body, _) in KINDS.items():
        if body == name:
            return kind
    raise KeyError(f"{body_type.__name__} is not saved as a record; there are: {', '.join(KINDS)}")


def body_type(kind: str) -> type[Any]:
    """The type of a kind's body. Raises KeyError for a kind that there is not."""
    module, _, name = KINDS[kind][0].rpartition(".")
    found: type[Any] = getattr(import_module(module), name)
    return found
