"""Which fit the drawn diameters suggest. Drawings are mostly nominal: equal diameters say that there is a
fit, not which."""

from __future__ import annotations

from dataclasses import dataclass

EQUAL = 20e-6
"""Diameters that differ by less are drawn equal [m]."""


@dataclass(frozen=True, slots=True)
class FitGuess:
    """hole, shaft: ISO 286 classes, or None where the diameters stand for themselves; question: or ""."""

    hole: str | None
    shaft: str | None
    question: str


def guess_fit(play: float, together: int, pin: str | None) -> FitGuess:
    """play: hole less shaft as drawn [m]; together: how many fits go home in one motion; pin: class that a
    standard pin has, or None."""
    if abs(play) > EQUAL:
        return FitGuess(None, None, "")
    if pin is not None:
        words = f"drawn equal; the pin is {pin}: E8 slides at every size, H7 is pressed - which is it?"
        return FitGuess("E8", pin, words)
    if together > 1:
        words = f"drawn equal; {together} pairs go in at once, so f7 for play - which fit is it?"
        return FitGuess("H7", "f7", words)
    return FitGuess("H7", "g6", "drawn equal, which says that it fits but not how: is it H7/g6?")
