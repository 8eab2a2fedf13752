"""The cautions that go wherever an output could move a machine."""

from __future__ import annotations

CAUTIONS = (
    "Handfast plans and checks. It is not a safety function.",
    "Before a chart moves a machine: a risk assessment by a competent person, following ISO 10218 and local "
    "rules. Held parts and drivers belong to it, and so does what two arms can clamp between them.",
    "First runs at reduced speed, in a guarded space, with a working emergency stop.",
    "Force and speed figures are process values, never safety limits.",
)
