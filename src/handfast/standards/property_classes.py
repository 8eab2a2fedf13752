"""Strength of screws by property class: ISO 898-1 (carbon steel) and ISO 3506-1 (stainless steel).

Source: ISO 898-1:2013 table 3, sizes up to M16 (proof stress Sp = tabled proof load / As, proof loads looked
up in two public transcriptions; Rm and Rp0.2 from memory); ISO 3506-1 A2 classes 50, 70 and 80 (from memory).
ISO 3506-1 gives no proof stress: the 0.2 % stress stands in its place here and `proof_is_tabled` is False.
"""

from __future__ import annotations

from dataclasses import dataclass

from handfast.standards.tabled_value_error import not_in_table
from handfast.standards.threads import MetricThread


@dataclass(frozen=True, slots=True)
class PropertyClass:
    """Minimum tensile strength, yield (0.2 %) stress and proof stress [Pa]."""

    name: str
    tensile: float
    yield_stress: float
    proof_stress: float
    proof_is_tabled: bool


def _steel(name: str, tensile: float, yielding: float, proof: float) -> PropertyClass:
    return PropertyClass(name, tensile * 1e6, yielding * 1e6, proof * 1e6, proof_is_tabled=True)


def _stainless(name: str, tensile: float, yielding: float) -> PropertyClass:
    return PropertyClass(name, tensile * 1e6, yielding * 1e6, yielding * 1e6, proof_is_tabled=False)


PROPERTY_CLASSES: dict[str, PropertyClass] = {
    "4.8": _steel("4.8", 420, 340, 310),
    "5.8": _steel("5.8", 520, 420, 380),
    "8.8": _steel("8.8", 800, 640, 580),
    "10.9": _steel("10.9", 1040, 940, 830),
    "12.9": _steel("12.9", 1220, 1100, 970),
    "A2-50": _stainless("A2-50", 500, 210),
    "A2-70": _stainless("A2-70", 700, 450),
    "A2-80": _stainless("A2-80", 800, 600),
}


def property_class(name: str) -> PropertyClass:
    """The property class called `name`, such as `8.8` or `A2-70`; raises TabledValueError."""
    if name not in PROPERTY_CLASSES:
        raise not_in_table("screw property class", name, PROPERTY_CLASSES)
    return PROPERTY_CLASSES[name]


def proof_load(thread: MetricThread, strength: PropertyClass) -> float:
    """Proof load Fp = As Sp [N] (ISO 898-1); for stainless steel the load at the 0.2 % stress."""
    return thread.stress_area * strength.proof_stress
