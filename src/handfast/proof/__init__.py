"""The independent verifier: shares no code with the planner."""

from __future__ import annotations

from handfast.proof.verify import verify

__all__ = ["verify"]
