"""What became of each mate, as only the simulated cell knows it."""

from __future__ import annotations

from dataclasses import replace

from handfast.model.mate import Mate
from handfast.model.trial import MateTry


def failed(tries: list[MateTry], mate: Mate, cause: str) -> None:
    """What was tried of this mate has not come to its end: one failed try takes the place of all before."""
    blank = MateTry(mate.name, "failed", cause, 0.0, 0.0, 0.0, 0.0)
    last = next((t for t in tries if t.mate == mate.name), blank)
    tries[:] = [t for t in tries if t.mate != mate.name]
    tries.append(replace(last, outcome="failed", cause=cause))


def never_begun(tries: list[MateTry], mate: str, cause: str) -> None:
    """The mate's part did not come as far as its mate."""
    tries.append(MateTry(mate, "failed", cause, 0.0, 0.0, 0.0, 0.0))
