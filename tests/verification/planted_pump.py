"""Faults planted in the dosing pump's cell, one run each: `python -m tests.verification.planted_pump FOLDER`.

FOLDER: a copy of projects/dosing-pump with a saved chart and ledger of `handfast plan FOLDER --target 99.5%`.
Printed: how the run ended, the cause named and what a person is told, and what is wrong with a product that
came to its end: parts further aside than 0.15 mm or higher than 0.6 mm (sound cells spread by up to 0.5 mm in
height: pins go as deep as the arm brings them). The ring bends and is not tried.
"""

from __future__ import annotations

import sys

import numpy as np
from tests.workflow.planted_faults import Fault, FaultyCell

from handfast.cli.saved_records import need
from handfast.execution.executor import execute
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.model.project import Project
from handfast.spatial import se3
from handfast.workflow.read_project import check, load

FAULTS = {
    "sound": Fault(),
    "missing block": Fault(gone="lower_block"),
    "upside-down block": Fault(flipped="lower_block"),
    "missing screw": Fault(gone="screw_1"),
    "undersize bore": Fault(sizes={"lower_block.bore_drive": 7.9e-3}),
    "soft finger": Fault(soft=0.3e-3),
    "snagged hose": Fault(snag=6),
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


def main(folder: str, seed: int = 3) -> int:
    """How many bad products passed as good."""
    project = check(load(folder)).project
    chart, ledger = need(folder, "chart", Chart), need(folder, "ledger", Ledger)
    passed = 0
    for name, fault in FAULTS.items():
        cell = FaultyCell(project, chart.body, fault, seed)
        log = execute(project, chart.body, ledger.body, cell, recover=True)
        wrong = off(cell, project) if log.ended == "done" else []
        passed += bool(wrong)
        told = f"{name}: {log.ended} {log.cause or '-'}; {log.reason or 'as it should be'}"
        sys.stdout.write("\n  ".join([told, *wrong]) + "\n")
    return passed


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
