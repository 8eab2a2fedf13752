"""Faults planted in the dosing pump's cell, one run each: `python -m tests.verification.planted_pump`.

The pump is settled for its target and proven. A fault has to stop the run with a cause that names it, and
after the repair the build has to go on to its end, or the run ends by itself; whatever comes to its end must
not be a bad product: no part further aside than 0.15 mm or higher than 0.6 mm (sound cells spread by up to
0.5 mm in height: pins go as deep as the arm brings them). The ring bends and is not tried.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from tests.workflow.planted_faults import Fault, FaultyCell
from tests.workflow.repaired import Ready, after_repair, begun_anew, cell_of

import handfast as hf
from handfast.model.project import Project
from handfast.model.run_log import RunLog
from handfast.spatial import se3
from handfast.workflow.run_chart import must_hold

PUMP = Path(__file__).parents[2] / "projects" / "dosing-pump"
SEED = 3
STOPS = {
    "missing block": (Fault(gone="lower_block"), "missing part"),
    "upside-down block": (Fault(flipped="lower_block"), "upside down"),
    "missing screw": (Fault(gone="screw_1"), "not taken up"),
    "undersize bore": (Fault(sizes={"lower_block.bore_drive": 7.9e-3}), "did not go in"),
    "soft finger": (Fault(soft=0.3e-3), "slipped"),
    "snagged hose": (Fault(snag=6), "obstructed"),
}
ENDS = {
    "sound": Fault(),
    "right base 1 mm along x": Fault(moved={"arm.right.base": se3.translation(1e-3, 0, 0)}),
    "joint 1 zero off by 0.1 deg": Fault(zero=(0, np.radians(0.1))),
}


def off(cell: FaultyCell, project: Project) -> list[str]:
    """Parts of a product that are not where their mates say."""
    out = []
    for mate in project.product.mates:
        pair, part = mate.pairs[0], project.product.part(mate.part)
        if mate.kind in ("ring", "belt"):
            continue
        if not cell.truth.items[mate.part].parent.startswith("part."):
            out.append(f"{mate.part} is at {cell.truth.items[mate.part].parent}")
            continue
        moving = cell.truth.T_world(mate.part) @ part.feature(pair.moving).frame.matrix
        T = se3.inverse(cell.truth.T_world_feature(pair.fixed_part, pair.fixed)) @ moving
        aside, high = float(np.hypot(T[0, 3], T[1, 3])), float(T[2, 3] - pair.depth)
        if aside > 0.15e-3 or abs(high) > 0.6e-3:
            out.append(f"{mate.part} is {aside * 1e3:.2f} mm aside, {high * 1e3:.2f} mm deep")
    return out


def ready() -> Ready:
    """The pump as it is run."""
    checked = hf.check(hf.load(PUMP))
    chart, ledger = hf.settle(checked, seed=7)
    return Ready(checked, chart, must_hold(checked.project, chart), ledger)


def stopped(pump: Ready, name: str) -> list[str]:
    """What is not as it should be about a fault that has to stop the run."""
    fault, cause = STOPS[name]
    cell = cell_of(pump, fault, SEED)
    log = pump.run(cell)
    if (log.ended, log.cause) != ("stopped", cause):
        return [f"expected a stop, {cause}; found {log.ended}, {log.cause or '-'}: {log.reason}"]
    again = begun_anew(pump, cell, log) if name == "soft finger" else after_repair(pump, cell, log)
    return ended(pump, cell, again)


def ended(pump: Ready, cell: FaultyCell, log: RunLog) -> list[str]:
    """What is wrong with a run that has to come to its end, or with its product."""
    return off(cell, pump.checked.project) if log.ended == "done" else [f"{log.ended}: {log.reason}"]


def main() -> int:
    pump, wrong = ready(), 0
    for name in (*STOPS, *ENDS):
        if name in STOPS:
            found = stopped(pump, name)
            good = f"stopped, {STOPS[name][1]}; after the repair a good product"
        else:
            cell = cell_of(pump, ENDS[name], SEED)
            found, good = ended(pump, cell, pump.run(cell)), "a good product"
        wrong += bool(found)
        sys.stdout.write("\n      ".join([f"   {name}: {'' if found else good}", *found]) + "\n")
        sys.stdout.flush()
    sys.stdout.write(f"{len(STOPS) + len(ENDS) - wrong} of {len(STOPS) + len(ENDS)} as they should be\n")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
