"""What may go wrong with a mate other than where its part comes in: forces, torques, depths, jaws.

Pressing: the force (press_condition). A screw: its thread stripped, or it meets the end of its hole before
its head is down.

Stripped: the tightening torque gives a preload beyond what the screw or the thread of its hole bears, at a
friction drawn evenly between two thirds and four thirds of the screw's own (VDI 2230's form, the range a
choice). The screw bears its proof load, A2-70 if no class is written; the hole's thread its sheared area
times a shear strength of 180 MPa, which common wrought aluminium reaches (from memory), so softer parts strip
earlier. Sheared area of an internal thread: pi d (m/P) [P/2 + (d - D2) tan 30 deg] over the length m
(VDI 2230 part 1, from memory), D2 = d2.

Bottomed: what is left between point and end of the thread, with the screw's length within js15 (ISO 4759-1,
from memory; IT15 is ten times IT10 by ISO 286-1's own formulas), and the depth of the thread and what is
clamped within ISO 2768-1 m, limits at three sigma.
Burrs and missing chamfers come with a share of the parts. What such a part does is not known: at the sure end
it does not go in, at the other it does.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from handfast.model.feature import Feature
from handfast.model.mate import Mate
from handfast.model.product import Product
from handfast.standards.clearance_holes import clearance_hole
from handfast.standards.general_tolerances import linear_tolerance
from handfast.standards.it_grades import it_width
from handfast.standards.property_classes import proof_load, property_class
from handfast.standards.socket_head_screws import socket_head
from handfast.standards.tabled_value_error import TabledValueError
from handfast.standards.threads import MetricThread, coarse_thread
from handfast.standards.tightening import bearing_mean_diameter, tightening_torque
from handfast.uncertainty.entry import Entry
from handfast.uncertainty.insertion_condition import FRICTION
from handfast.uncertainty.press_condition import PressForce, press_force

SHEAR = 180e6  # [Pa]
_ASSUMED_CLASS = "A2-70"


@dataclass(frozen=True, slots=True)
class AfterEntry:
    """stripped, bottomed: chances for a screw that has started; press: of a pressed part; clean: chance that
    no feature of the mate has a burr or lacks its chamfer."""

    stripped: float = 0.0
    bottomed: float = 0.0
    press: PressForce | None = None
    clean: float = 1.0

    @property
    def good(self) -> tuple[float, float]:
        """Chance that nothing of this goes wrong, at the sure end and the other."""
        screw = (1 - self.stripped) * (1 - self.bottomed)
        sure, other = (1.0, 1.0) if self.press is None else (self.press.sure, self.press.other)
        return self.clean * screw * sure, screw * other


def after_entry(product: Product, entry: Entry) -> AfterEntry:
    """Of one mate."""
    met = [f for p in (*entry.pairs, *entry.passes) for f in (p.moving, p.fixed)]
    clean = math.prod(
        (1 - f.lot.burrs) * (1 - f.lot.missing_chamfers) for f in dict.fromkeys(met) if f.lot is not None
    )
    if entry.mate.kind != "screw":
        return AfterEntry(press=press_force(product, entry), clean=clean)
    screw, hole = entry.pairs[0].moving, entry.pairs[0].fixed
    stripped = _stripped(product, entry.mate, screw, hole)
    return AfterEntry(stripped, _bottomed(entry.mate, screw, hole), clean=clean)


def _torque(product: Product, mate: Mate) -> float:
    rounds = [s.torque or 0.0 for t in product.tightenings if mate.name in t.screws for s in t.stages]
    return max([mate.torque or 0.0, *rounds])


def _stripped(product: Product, mate: Mate, screw: Feature, hole: Feature) -> float:
    thread = coarse_thread(screw.thread or hole.thread or "")
    try:
        bearing = bearing_mean_diameter(
            socket_head(thread.name).bearing_diameter, clearance_hole(thread.name)
        )
    except TabledValueError:
        return 0.0  # a head of another kind: the file's own finding says that nothing is known of it
    bears = min(
        proof_load(thread, property_class(screw.property_class or _ASSUMED_CLASS)),
        thread_bears(thread, abs(mate.pairs[0].depth)),
    )
    mean = product.part(mate.part).friction
    low, high = (f * mean for f in FRICTION)
    # The torque that the load takes rises evenly with friction: under some friction there is too little.
    at_low, at_high = (tightening_torque(bears, thread, mu, mu, bearing) for mu in (low, high))
    torque = _torque(product, mate)
    if at_high <= at_low:
        return 1.0 if torque > at_low else 0.0
    return min(1.0, max(0.0, (torque - at_low) / (at_high - at_low)))


def thread_bears(thread: MetricThread, length: float) -> float:
    """Load [N] that shears the thread of a hole over an engaged length [m]."""
    flank = thread.pitch / 2 + (thread.diameter - thread.pitch_diameter) * math.tan(math.radians(30))
    return SHEAR * math.pi * thread.diameter * (length / thread.pitch) * flank


def _bottomed(mate: Mate, screw: Feature, hole: Feature) -> float:
    if hole.length is None or not hole.internal or screw.length is None:
        return 0.0
    depth = abs(mate.pairs[0].depth)
    clamped = max(screw.length - depth, 0.0)
    try:
        tolerances = [10 * it_width(screw.length, 10) / 2, linear_tolerance(hole.length)]
        tolerances += [linear_tolerance(clamped)] if clamped >= 0.5e-3 else []
    except TabledValueError:
        return 0.0 if hole.length > depth else 1.0
    return 0.5 * math.erfc((hole.length - depth) / (math.hypot(*tolerances) / 3 * math.sqrt(2)))
