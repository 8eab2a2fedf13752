"""Which thread a hole is drilled for."""

from __future__ import annotations

from handfast.standards.threads import THREAD_NAMES, coarse_thread

_CLOSE = 0.06e-3
"""Tap drills are rounded to tenths, and some draw the minor diameter: either is met within that [m]."""


def thread_of_hole(diameter: float) -> str | None:
    """The coarse thread whose tap drill (nominal less pitch, ISO 2306) or minor diameter (ISO 724) a hole
    has, or None. diameter [m]."""
    for name in THREAD_NAMES:
        thread = coarse_thread(name)
        if min(abs(diameter - d) for d in (thread.diameter - thread.pitch, thread.minor_diameter)) < _CLOSE:
            return name
    return None
