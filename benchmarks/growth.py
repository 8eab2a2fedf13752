"""How planning grows with the number of parts, by part of the work: generated products of three sizes.

python benchmarks/growth.py [PARTS ...]

Wanted: 40 parts within 10 s, 150 within 60 s.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

from measured.capped_pins import write_capped
from measured.many_parts import write_many
from measured.results import keep, table

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from planning import by_part

PARTS = (13, 40, 150)
PRODUCTS = {
    "capped pins": (write_capped, "pairs of pins, a cap over each, two screws through it"),
    "pins": (write_many, "pins in a plate, all alike but for their size"),
}
SEED = 1
SHOWN = 8  # parts of the work, the largest of the largest product


def main() -> None:
    counts = tuple(int(a) for a in sys.argv[1:]) or PARTS
    kept = {}
    for name, (write, what) in PRODUCTS.items():
        figures = {n: _measured(write, n) for n in counts}
        print(f"{name}: {what}")
        _shown(figures, counts)
        kept[name] = {str(n): f for n, f in figures.items()}
    keep("growth", kept)


def _measured(write: Callable[[Path, int, int], Path], parts: int) -> dict[str, Any]:
    """One product checked and planned."""
    with tempfile.TemporaryDirectory() as scratch:
        folder = write(Path(scratch) / "many", parts, SEED)
        began = time.process_time()
        checked = check_folder(str(folder))
        checking = time.process_time() - began
        if not isinstance(checked, CheckedProject):
            raise SystemExit(f"{parts} parts: {checked[0]}")
        began = time.process_time()
        figures = {**by_part(checked), "checking_s": round(checking, 2)}
        figures["processor_s"] = round(time.process_time() - began, 2)
    return figures


def _shown(figures: dict[int, dict[str, Any]], counts: tuple[int, ...]) -> None:
    last = figures[counts[-1]]["parts_s"]
    rows = [("planned", *("yes" if figures[n]["planned"] else "NO" for n in counts))]
    rows += [("checking, processor time", *(figures[n]["checking_s"] for n in counts))]
    rows += [("planning, processor time", *(figures[n]["processor_s"] for n in counts))]
    rows += [("planning, wall", *(figures[n]["whole_s"] for n in counts))]
    for part in sorted(last, key=lambda p: -last[p])[:SHOWN]:
        rows.append((f"  {part}", *(figures[n]["parts_s"].get(part, 0.0) for n in counts)))
    table(("seconds", *(f"{n} parts" for n in counts)), rows)
    for a, b in pairwise(counts):
        ratio = figures[b]["processor_s"] / figures[a]["processor_s"]
        print(f"RATIO {b} to {a} parts: {ratio:.1f} times the work for {b / a:.1f} times the parts")


if __name__ == "__main__":
    main()
