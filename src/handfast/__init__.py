"""Plans, proves, budgets and tries two-arm, jig-free assembly of small mechanical products.

The verbs live in ``handfast.workflow`` and load when first asked for, so that ``import handfast`` stays
instant and a layer below never pulls in one above.
"""

from __future__ import annotations

import os
from importlib import import_module
from typing import Any

# Matrices here are small: threads of their own wait for each other longer than they work (the ledger of the
# pump: a third of the processor time with one). Takes effect if numpy has not been loaded before.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

__version__ = "0.1.0"

__all__ = [
    "budget", "check", "commission", "learn", "load", "plan", "reliability", "run", "settle", "trial",
    "verify", "what_if", "why",
]  # fmt: skip


def __getattr__(name: str) -> Any:
    """Fetch a verb from ``handfast.workflow`` at its first use."""
    if name not in __all__:
        raise AttributeError(f"module 'handfast' has no attribute {name!r}; it has: {', '.join(__all__)}")
    verb = getattr(import_module("handfast.workflow"), name)
    globals()[name] = verb
    return verb


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
