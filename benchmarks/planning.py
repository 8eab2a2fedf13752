"""Planning of the two example products: from outside, and by part of the work."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from measured.clocks import Clocks
from measured.results import PROJECTS, keep, table

from handfast import _kernel
from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.kinematics.inverse import inverse
from handfast.mates.grasps import grasps
from handfast.model.chart import Chart
from handfast.motion.line import waypoints
from handfast.motion.timing import timed
from handfast.planning import plan
from handfast.planning.clear_line import blocked
from handfast.planning.explain import explain
from handfast.planning.handover import meeting_poses
from handfast.planning.master import propose
from handfast.planning.realise import realise
from handfast.planning.station import stations
from handfast.planning.workspace import Workspace, make_workspace
from handfast.proof import verify
from handfast.proof.in_parts import may_fork

NAMES = ("first-fit", "dosing-pump")
SEED = "7"
_CLI = "from handfast.cli import main; main()"


def from_outside(folder: Path, *more: str) -> dict[str, Any]:
    """`handfast plan --fresh` as a process of its own, the second of two: wall time [s], peak memory [MB]."""
    command = [sys.executable, "-c", _CLI, "plan", str(folder), "--seed", SEED, "--fresh", *more]
    for _ in range(2):
        began = time.perf_counter()
        process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        _, status, used = os.wait4(process.pid, 0)
        wall = time.perf_counter() - began
        process.returncode = os.waitstatus_to_exitcode(status)
    peak = used.ru_maxrss / (1024 if sys.platform != "darwin" else 1024**2)
    return {"wall_s": round(wall, 2), "peak_MB": round(peak), "exit_code": process.returncode}


def by_part(checked: CheckedProject) -> dict[str, Any]:
    """One plan in this process with clocks around its parts; what no clock has is `the rest`."""
    with Clocks() as clocks:
        clocks.on("workspace: shapes, covers, kinematics", make_workspace)
        clocks.on("master: order, hands, routes", propose)
        clocks.on("explaining failures (its own part)", explain)
        clocks.on("exact line tests", blocked)
        clocks.on("grasps", grasps)
        clocks.on("meeting poses of handovers", meeting_poses)
        clocks.on("inverse kinematics, stations", inverse, stations, waypoints)
        clocks.on("timing", timed)
        clocks.on_attribute("path search", _kernel, "rrt_connect")
        clocks.on_attribute("shortcuts", _kernel, "shortcut")
        clocks.on_attribute("moving and standing covers", Workspace, "hand_cover", "world")
        clocks.on("the rest of the search", realise)
        began = time.perf_counter()
        found = plan(checked, seed=int(SEED))
        whole = time.perf_counter() - began
    parts = {name: round(s, 4) for name, s in clocks.seconds.items()}
    parts["the rest"] = round(whole - sum(clocks.seconds.values()), 4)
    calls = dict(clocks.calls)
    return {"planned": isinstance(found, Chart), "whole_s": round(whole, 3), "parts_s": parts, "calls": calls}


def proof(checked: CheckedProject) -> dict[str, Any]:
    """The proof of the chart in this process: the first, and one that finds the meshes read [s]."""
    found = plan(checked, seed=int(SEED))
    if not isinstance(found, Chart):
        raise SystemExit("not planned")
    took = []
    for _ in range(2):
        began = time.perf_counter()
        proven = verify(checked.project, found, "")
        took.append(round(time.perf_counter() - began, 3))
    return {
        "holds": proven.holds,
        "first_s": took[0],
        "warm_s": took[1],
        "configurations": proven.configurations,
        "processors": 2 if may_fork() else 1,
    }


def cycles(checked: CheckedProject) -> dict[str, float]:
    """Cycle of the same sequence one hand at a time and with both at once [s], and the ratios."""
    alone, both = (plan(checked, seed=int(SEED), together=t) for t in (False, True))
    if not (isinstance(alone, Chart) and isinstance(both, Chart)):
        raise SystemExit("not planned")
    return {
        "alone_s": round(alone.makespan_s, 2),
        "both_s": round(both.makespan_s, 2),
        "ratio_both_to_alone": round(both.makespan_s / alone.makespan_s, 3),
        "ratio_both_to_bound": round(both.makespan_s / both.lower_bound_s, 3),
    }


def main() -> None:
    figures = {}
    for name in NAMES:
        with tempfile.TemporaryDirectory() as scratch:
            folder = Path(scratch) / name
            shutil.copytree(PROJECTS / name, folder, ignore=shutil.ignore_patterns("records"))
            outside = from_outside(folder)
            proven_outside = from_outside(folder, "--prove")
        checked = check_folder(PROJECTS / name)
        if not isinstance(checked, CheckedProject):
            raise SystemExit(f"{name}: {checked[0]}")
        plan(checked, seed=int(SEED))  # so that imports are not counted
        inside = by_part(checked)
        cycle, proven = cycles(checked), proof(checked)
        figures[name] = {
            "from_outside": outside, "proven_from_outside": proven_outside, "by_part": inside,
            "proof": proven, "cycle": cycle,
        }  # fmt: skip
        print(f"{name}: `handfast plan --fresh` from outside, second time: {outside['wall_s']} s, "
              f"{outside['peak_MB']} MB at most, exit code {outside['exit_code']}")  # fmt: skip
        yes = "planned" if inside["planned"] else "NOT planned"
        print(f"  inside one process: {inside['whole_s']} s, {yes}")
        parts = sorted(inside["parts_s"].items(), key=lambda p: -p[1])
        rows = [(p, s, f"{100 * s / inside['whole_s']:.0f} %", inside["calls"].get(p, "")) for p, s in parts]
        table(("part of the work", "s", "share", "calls"), rows)
        holds = "it holds" if proven["holds"] else "it does NOT hold"
        print(f"  the proof, {holds}: {proven['first_s']} s, {proven['warm_s']} s once meshes are read; "
              f"{proven['configurations']} configurations, on {proven['processors']} processors; "
              f"RATIO to planning {proven['warm_s'] / inside['whole_s']:.2f}, both together "
              f"{proven['warm_s'] + inside['whole_s']:.2f} s (wanted for the pump: 1 s)")  # fmt: skip
        print(f"  `plan --fresh --prove` from outside: {proven_outside['wall_s']} s "
              f"(wanted for the pump: 2.5 s), exit code {proven_outside['exit_code']}")  # fmt: skip
        print(f"  cycle: {cycle['alone_s']} s one hand at a time, {cycle['both_s']} s with both at once; "
              f"RATIO both to one {cycle['ratio_both_to_alone']}, "
              f"both to the bound {cycle['ratio_both_to_bound']}")  # fmt: skip
    keep("planning", figures)


if __name__ == "__main__":
    main()
