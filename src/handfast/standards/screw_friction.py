"""Friction ranges of screw threads and head faces by lubrication, for preload ranges at a set torque.

Source: the friction classes A to E of VDI 2230 part 1, table A5 (from memory). A range, never one value: the
preload that a torque gives varies by as much.
"""

from __future__ import annotations

from dataclasses import dataclass

from handfast.standards.tabled_value_error import not_in_table


@dataclass(frozen=True, slots=True)
class FrictionRange:
    """Lowest and highest coefficient of friction to expect."""

    low: float
    high: float


# Class of VDI 2230 table A5 and what it stands for.
FRICTION_RANGES: dict[str, FrictionRange] = {
    "solid_lubricant": FrictionRange(0.04, 0.10),  # A: MoS2, graphite, PTFE, waxes as coating or paste
    "lubricated": FrictionRange(0.08, 0.16),  # B: oiled, greased, microencapsulated adhesive
    "dry": FrictionRange(0.14, 0.24),  # C: as delivered, phosphated, zinc plated
    "dry_zinc": FrictionRange(0.20, 0.35),  # D: zinc or austenitic steel, dry
    "stainless_dry": FrictionRange(0.30, 0.45),  # E: austenitic steel dry, prone to galling
}


def friction_range(condition: str) -> FrictionRange:
    """Friction range for a condition such as `lubricated`; raises TabledValueError."""
    if condition not in FRICTION_RANGES:
        raise not_in_table("screw friction", condition, FRICTION_RANGES)
    return FRICTION_RANGES[condition]
