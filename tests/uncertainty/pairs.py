"""Pairs and supports that several tests share."""

from __future__ import annotations

import math

from handfast.uncertainty.peg_in_hole import PegInHole, Support

MM = 1e-3

# 10 mm H7/g6 at the middle of its fit, stiff wrist with a far compliance centre.
STIFF = (PegInHole(5.0085 * MM, 5.0 * MM, 15 * MM, 1 * MM), Support(40e3, 200.0, 0.100))
# 25 mm with 20 um, soft wrist: two-point contact begins early.
SOFT = (PegInHole(12.5 * MM, 12.49 * MM, 40 * MM, 1 * MM), Support(7e3, 53.0, 0.045))
# Compliance centre at the tip.
REMOTE = (PegInHole(5.025 * MM, 5.0 * MM, 20 * MM, 1.5 * MM, math.radians(30)), Support(10e3, 100.0, 0.0))
PAIRS = {"stiff": STIFF, "soft": SOFT, "remote": REMOTE}
