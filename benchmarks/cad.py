"""From a STEP file to a checked project, and features of a part with 500 faces.

Cold: a new process, nothing loaded. Warm: the CAD library loaded, the second project in one process. Seconds
of this run, wall and processor; the ratios are what may be compared between machines.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from handfast.geometry.cad.find_features import find_features
from handfast.geometry.cad.read_step import read_step
from handfast.mates.from_cad.recognise import recognise
from handfast.workflow.new_from_cad import write_project

sys.path.insert(0, str(Path(__file__).parents[1]))
from tests.geometry.cad.step_writer import at, write_step  # the corpus lies beside the package
from tests.verification.cad import cuts, draw
from tests.verification.cad.assemblies import Rig, rig

SCREWS = tuple((x, y) for x in (-36.0, -18.0, 0.0, 18.0, 36.0) for y in (-20.0, 20.0))


def measured(do: Callable[[], object]) -> tuple[float, float]:
    """Wall and processor seconds, children included."""
    before, start = _spent(), time.perf_counter()
    do()
    return time.perf_counter() - start, _spent() - before


def _spent() -> float:
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(u.ru_utime + u.ru_stime for u in used)


def holed_plate(folder: Path) -> Path:
    """A plate with 154 blind holes: bore, chamfer and drill point each."""
    shape = draw.box((0, 0, 0), (250, 130, 12))
    z = np.array([0.0, 0.0, -1.0])
    tools = []
    for i in range(22):
        for j in range(7):
            tool, _ = cuts.hole(np.array([10.0 + 11 * i, 10.0 + 18 * j, 12.0]), z, 5.0, 6.0, False, 0.4)
            tools.append(tool)
    for row in range(0, len(tools), 22):
        part = tools[row]
        for tool in tools[row + 1 : row + 22]:
            part = draw.add(part, tool)
        shape = draw.cut(shape, part)
    return write_step(folder / "plate.step", "plate", [("plate", shape, at(0, 0, 0))])


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        made = rig(Rig(screws=SCREWS))
        file = write_step(folder / "rig.step", "rig", made.placed())
        command = [
            str(Path(sys.executable).parent / "handfast"),
            "new",
            str(folder / "cold"),
            "--from",
            str(file),
        ]
        cold = measured(lambda: subprocess.run(command, check=True, capture_output=True))
        write_project(folder / "first", recognise(read_step(file)), file.name)
        warm = measured(lambda: write_project(folder / "second", recognise(read_step(file)), file.name))
        print(
            f"{len(made.parts)} parts to a checked project, cold {cold[0]:.2f} s ({cold[1]:.2f} of processor)"
        )
        print(f"   warm {warm[0]:.2f} s ({warm[1]:.2f} of processor), cold over warm {cold[1] / warm[1]:.1f}")
        graph = read_step(holed_plate(folder)).drawings[0].graph
        found = measured(lambda: find_features(graph))
        print(f"features of {len(graph.faces)} faces {found[0]:.2f} s ({found[1]:.2f} of processor)")


if __name__ == "__main__":
    main()
