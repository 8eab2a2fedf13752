"""The verbs an engineer uses, records in, records out.

Each lives in a file of its own and loads at its first use, so that asking for one does not load the others.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

WHERE = {
    "load": "read_project",
    "check": "read_project",
    "plan": "make_chart",
    "verify": "make_proof",
    "budget": "make_ledger",
    "what_if": "changed_errors",
    "settle": "settle_chart",
    "trial": "make_trial",
    "reliability": "compare",
    "run": "run_chart",
    "commission": "learn_sources",
    "learn": "learn_sources",
    "why": "explain_chart",
}

__all__ = [
    "budget", "check", "commission", "learn", "load", "plan", "reliability", "run", "settle", "trial",
    "verify", "what_if", "why",
]  # fmt: skip


def __getattr__(name: str) -> Any:
    """Fetch a verb at its first use."""
    if name not in WHERE:
        raise AttributeError(
            f"module 'handfast.workflow' has no attribute {name!r}; it has: {', '.join(__all__)}"
        )
    return getattr(import_module(f"handfast.workflow.{WHERE[name]}"), name)
