"""Values as the project files write them."""

from __future__ import annotations


def mm(metres: float) -> str:
    """A length [m] in millimetres."""
    return f"{round(1e3 * metres, 6):.10g} mm"


def row(*metres: float) -> str:
    """A point [m] in millimetres."""
    return f"[{', '.join(mm(v + 0.0) for v in metres)}]"
