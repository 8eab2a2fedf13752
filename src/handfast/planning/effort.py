"""How much a search may try before it gives up: counted, not timed, so that equal searches end alike."""

from __future__ import annotations

import math


class GaveUpError(Exception):
    """More was tried than was allowed."""


class Effort:
    """A count of tries, each about as much work as one posture of an arm with its lines. allowed: how many,
    from the last renewal on."""

    def __init__(self, allowed: float = math.inf) -> None:
        self._allowed, self.left = allowed, allowed

    def renew(self) -> None:
        """Count from nothing again."""
        self.left = self._allowed

    def spend(self, tries: float) -> None:
        """Raises GaveUpError where that is more than is left."""
        self.left -= tries
        if self.left < 0:
            raise GaveUpError
