"""The ledger, what it is made of, and the choice of touches: both example products, on charts made here.

Seconds of processor time: other work on the machine counts less. Wanted: a ledger in 0.2 s once the program
is warm, 100 000 drawn insertions in 1 s, the touches of the demo chosen in 5 s, an update of the estimator in
2 ms (touches.py has that one).
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from typing import Any

# As the program itself has it; to be said before numpy is loaded.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from measured.clocks import Clocks
from measured.results import PROJECTS, keep, table

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.uncertainty.budget import budget
from handfast.uncertainty.choose_touches import demands_for
from handfast.uncertainty.hand_poses import hand_poses
from handfast.uncertainty.jaws import Given
from handfast.uncertainty.peg_in_hole import PegInHole, Support
from handfast.uncertainty.quasi_static import quasi_static
from handfast.uncertainty.sources import sources_of
from handfast.uncertainty.walk import walk_twice
from handfast.workflow.settle_chart import settled

NAMES = ("first-fit", "dosing-pump")
INSERTIONS, RUNS = 100_000, 5


def cost(what: Callable[[], Any], runs: int = RUNS) -> float:
    """Processor seconds of the median run, warm."""
    what()
    taken = []
    for _ in range(runs):
        began = time.process_time()
        what()
        taken.append(time.process_time() - began)
    return float(np.median(taken))


def measure(name: str) -> dict[str, float]:
    checked = check_folder(PROJECTS / name)
    if not isinstance(checked, CheckedProject):
        raise SystemExit(f"{name}: {checked[0]}")
    project = checked.project
    clocks = Clocks()
    clocks.on("choosing", demands_for)
    began = time.process_time()
    with clocks:
        found = settled(checked, target=project.target, seed=7)
    settling = time.process_time() - began
    chart = found.chart.body
    given = Given(project, chart, sources_of(project), hand_poses(project, chart))
    whole = cost(lambda: budget(project, chart, ""))
    entries, _ = walk_twice(given)
    parts = {
        "chains": cost(lambda: walk_twice(given)),
        "touches chosen, wall time": clocks.seconds["choosing"],
        "planned and settled": settling,
    }
    print(f"{name}: {len(chart.mates)} mates, {len(entries)} with chains, {len(chart.elements)} elements")
    table(("what", "s", "of a ledger"), [
        ("ledger, warm", whole, "1"), *((k, v, f"{v / whole:.2g}") for k, v in parts.items())
    ])  # fmt: skip
    return {"ledger_s": whole, **{f"{k}_s": v for k, v in parts.items()}}


def insertions() -> float:
    """Seconds for as many drawn errors of a 10 mm peg with 50 um of clearance."""
    peg = PegInHole(0.005, 0.004975, 0.02, 0.5e-3, np.pi / 4)
    support, rng = Support(20e3, 50.0, 0.06), np.random.default_rng(1)
    lateral, tilt = 3e-4 * rng.standard_normal(INSERTIONS), 5e-3 * rng.standard_normal(INSERTIONS)
    return cost(lambda: quasi_static(peg, support, 0.15, lateral, tilt))


def main() -> None:
    figures: dict[str, Any] = {name: measure(name) for name in NAMES}
    figures["insertions_s"] = insertions()
    print(f"{INSERTIONS} drawn insertions: {figures['insertions_s']:.3g} s")
    keep("ledger", figures)


if __name__ == "__main__":
    main()
