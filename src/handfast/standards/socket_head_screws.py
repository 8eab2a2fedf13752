"""Hexagon socket head cap screws, ISO 4762: head, key and socket, M2 to M12.

Source: ISO 4762:2004. Head diameter dk (plain heads, max), head height k (max), key s and socket depth t
(min) looked up in two public transcriptions that agree; bearing face diameter dw (min) from memory, except
where the test says so.
"""

from __future__ import annotations

from dataclasses import dataclass

from handfast.standards.tabled_value_error import not_in_table


@dataclass(frozen=True, slots=True)
class SocketHead:
    """Head of a socket head cap screw; lengths in m."""

    thread: str
    head_diameter: float
    head_height: float
    key: float
    socket_depth: float
    bearing_diameter: float


# dk, k, s, t, dw in mm.
_HEADS_MM: dict[str, tuple[float, float, float, float, float]] = {
    "M2": (3.8, 2.0, 1.5, 1.0, 3.48),
    "M2.5": (4.5, 2.5, 2.0, 1.1, 4.18),
    "M3": (5.5, 3.0, 2.5, 1.3, 5.07),
    "M4": (7.0, 4.0, 3.0, 2.0, 6.53),
    "M5": (8.5, 5.0, 4.0, 2.5, 8.03),
    "M6": (10.0, 6.0, 5.0, 3.0, 9.38),
    "M8": (13.0, 8.0, 6.0, 4.0, 12.33),
    "M10": (16.0, 10.0, 8.0, 5.0, 15.33),
    "M12": (18.0, 12.0, 10.0, 6.0, 17.23),
}


def socket_head(thread: str) -> SocketHead:
    """The ISO 4762 head on `thread`, such as `M4`; raises TabledValueError."""
    if thread not in _HEADS_MM:
        raise not_in_table("ISO 4762 screw", thread, _HEADS_MM)
    dk, k, s, t, dw = (value * 1e-3 for value in _HEADS_MM[thread])
    return SocketHead(thread, dk, k, s, t, dw)
