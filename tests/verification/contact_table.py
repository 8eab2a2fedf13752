"""Prints what the fast contact solver finds beside the formulas of parts mating, for docs/accuracy.md:

    python -m tests.verification.contact_table

Source: Whitney 1982 (from memory, checked by statics); the wedging tilt from MIT OCW 2.875.
"""

from __future__ import annotations

import math
import sys
from dataclasses import replace

import numpy as np
from tests.trials.insertions import SUPPORT, peg
from tests.verification.test_contact_limits import WIDTH, inserted, two_point_force

from handfast.trials.quick_contact import insert_quickly

ROW = "| {:<34} | {:<34} | {:>9} | {:>9} |"


def capture(diameter: float, clearance: float) -> float:
    """The largest offset that goes in [m]."""
    low, high = WIDTH - 20e-6, WIDTH + clearance / 2 + 40e-6
    while high - low > 0.5e-6:
        middle = 0.5 * (low + high)
        goes_in = insert_quickly(peg(middle, diameter=diameter, clearance=clearance)).outcome == "ok"
        low, high = (middle, high) if goes_in else (low, middle)
    return low


def jamming(tilt: float, depth: float, friction: float) -> tuple[float, float]:
    """M/(r Fz) + mu (1 + lam) Fx/Fz of a peg that slides, and lam, on which it has to lie."""
    found = insert_quickly(replace(peg(0.0, tilt, depth=depth, limit=5000.0), friction=friction))
    r, lever, chamfer = 4.975e-3, 30e-3, 0.5e-3
    leans, tip = math.asin(found.T_held[0, 2]), found.T_held[0, 3]
    side = -SUPPORT.lateral * ((tip - lever * math.sin(leans)) + lever * math.sin(tilt))
    along = found.peak_force
    moment = -SUPPORT.angular * (leans - tilt) - lever * side + lever * leans * along
    lam = (depth - chamfer) / (2 * r * friction)
    return moment / (r * along) + friction * (1 + lam) * side / along, lam


def wedging(friction: float) -> tuple[float, float]:
    """Share of the wedging tilt up to which every step comes to balance, and the tilt c/mu itself [rad]."""
    wedges = 50e-6 / 10e-3 / friction
    for share in np.arange(0.8, 3.0, 0.05):
        if inserted(float(share) * wedges, friction=friction).unsettled:
            return float(share) - 0.05, wedges
    return 3.0, wedges


def main() -> None:
    """Print it."""
    lines: list[str] = []
    lines.append(ROW.format("limit", "case", "formula", "solver"))
    lines.append("|---|---|---|---|")
    for diameter in (10e-3, 25e-3):
        for clearance in (20e-6, 50e-6, 100e-6, 200e-6):
            case = f"{diameter * 1e3:.0f} mm, {clearance * 1e6:.0f} µm clearance"
            formula = f"{(WIDTH + clearance / 2) * 1e6:.1f} µm"
            found = f"{capture(diameter, clearance) * 1e6:.1f} µm"
            lines.append(ROW.format("capture, W + cR", case, formula, found))
    for tilt, friction in ((8e-3, 0.15), (12e-3, 0.15), (8e-3, 0.3), (15e-3, 0.3), (8e-3, 0.5)):
        formula = f"{two_point_force(tilt, friction, 20e-3):.1f} N"
        found = f"{inserted(tilt, friction=friction).peak_force:.1f} N"
        case = f"tilt {tilt * 1e3:.0f} mrad, friction {friction}"
        lines.append(ROW.format("force of two-point contact", case, formula, found))
    cases = [
        (8e-3, 8e-3, 0.15),
        (8e-3, 10e-3, 0.15),
        (12e-3, 6e-3, 0.15),
        (8e-3, 9e-3, 0.3),
        (10e-3, 8e-3, 0.5),
    ]
    for tilt, depth, friction in cases:
        lies, lam = jamming(tilt, depth, friction)
        case = f"tilt {tilt * 1e3:.0f} mrad, {depth * 1e3:.0f} mm in, friction {friction}"
        lines.append(ROW.format("border of jamming, lam = l/(2 r mu)", case, f"{lam:.2f}", f"{lies:.2f}"))
    for friction in (0.15, 0.3, 0.5):
        share, wedges = wedging(friction)
        name, case = "wedging tilt, c/mu: balance up to", f"friction {friction}"
        found = f"{share * wedges * 1e3:.1f} mrad" if share < 3.0 else f"> {3 * wedges * 1e3:.0f} mrad"
        lines.append(ROW.format(name, case, f"{wedges * 1e3:.1f} mrad", found))

    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
