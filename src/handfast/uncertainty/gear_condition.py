"""The condition of two gears that mesh: the teeth of one come down in the gaps of the other.

At the pitch point the flanks may be off each other, along the pitch circle, by half the backlash either
way: a phase window of backlash over radius. At the sure end the backlash is the least that the sizes allow;
at the other end the most, and the chamfers at the teeth's ends turn the gear as far as they are wide. Off
by a whole tooth is as good. Derived from the pitch circles (ISO 21771); how far a chamfer at a tooth's end
helps has no source.
"""

from __future__ import annotations

import math

import numpy as np

from handfast.model.mate import FeaturePair
from handfast.spatial.se3 import Array
from handfast.uncertainty.condition import Condition
from handfast.uncertainty.entry import Entry, PairEntry
from handfast.uncertainty.refusal import BudgetError
from handfast.uncertainty.requirement import SURE_ENDS, Requirement


def gear_condition(entry: Entry, index: int) -> Condition:
    """The condition of the gears of one pair. Raises BudgetError where teeth, module or backlash are
    missing.
    """
    pair, drawn = entry.pairs[index], entry.mate.pairs[index]
    least, most = _backlash(entry, drawn)
    rows, pitch, radius = _along_pitch_circle(entry, pair)
    lead_in = sum(f.chamfer.width for f in (pair.moving, pair.fixed) if f.chamfer is not None)
    sure = Requirement("phase", rows, np.array([least / 2]), SURE_ENDS, pitch)
    other = Requirement(
        "phase at most backlash", rows, np.array([most / 2 + lead_in]), frozenset({"high"}), pitch
    )
    name = f"{pair.moving.name} with {pair.of}.{pair.fixed.name}"
    return Condition(
        pair, "pairs", index, name, least / 2, least / 2 / radius, (sure, other),
        f"module {(pair.moving.module or 0) * 1e3:g} mm teeth", (least, most),
    )  # fmt: skip


def tooth_pitch(pair: PairEntry) -> float:
    """Along the pitch circle [m]; 0 where a gear has no module."""
    return math.pi * (pair.moving.module or 0.0)


def _backlash(entry: Entry, drawn: FeaturePair) -> tuple[float, float]:
    if drawn.backlash is None:
        raise BudgetError(
            f"mate {entry.mate.name!r}, pair {drawn.moving}", "its backlash", "none",
            "write `backlash: [0.06 mm, 0.12 mm]`",
        )  # fmt: skip
    return drawn.backlash


def _along_pitch_circle(entry: Entry, pair: PairEntry) -> tuple[Array, float, float]:
    """Rows (2, 6) that take the deviation to the movement of the moving flank along the pitch circle at the
    pitch point; tooth pitch and pitch radius [m].
    """
    if not (pair.moving.teeth and pair.moving.module):
        raise BudgetError(
            f"mate {entry.mate.name!r}, gear {pair.moving.name}", "teeth and module", "none",
            "write `teeth: 18, module: 1 mm`",
        )  # fmt: skip
    radius = 0.5 * pair.moving.teeth * pair.moving.module
    centre = pair.T_fixed_moving[:2, 3]
    away = centre / np.linalg.norm(centre)
    along = np.array([-away[1], away[0]])
    rows = np.zeros((2, 6))
    # The pitch point lies one pitch radius back from the moving centre: rz moves it by -rz radius.
    rows[0, :2], rows[0, 5] = along, -radius
    return rows, tooth_pitch(pair), radius
