"""The search on 200 planted cells and against exhaustive search on 60 small ones; a report of how often it is
wrong.

    python -m tests.verification.planted_cells

Every plan goes through the proof, one hand at a time and with both at once where there are two arms; of the
plans made by hand that certify the cells, every third is proved anew. Two processes. Ends with 1 if an
answer is wrong, a plan fails its proof, or the two searches differ.
"""

from __future__ import annotations

import multiprocessing
import sys
import tempfile
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from itertools import repeat
from pathlib import Path

from tests.planning.generated.planted import Planted, certified, listed
from tests.planning.generated.small_cells import DRAWS, Costs, compare
from tests.planning.generated.verdict import Verdict, judge

from handfast.standards.interval import wilson

_EVERY = 3
_SMALL = 60
_CROWDED = 24  # of the small ones
Numbered = tuple[int, Planted]


def _judged(numbered: Numbered, root: Path) -> Verdict:
    return judge(numbered[1], root / f"judged-{numbered[0]}", together=True)


def _certified(numbered: Numbered, root: Path) -> bool:
    recipe, project = numbered[1].write(root / f"certified-{numbered[0]}")
    return certified(project, recipe)


def _compared(small: tuple[str, int], root: Path) -> Costs:
    return compare(*small, root / f"{small[0]}-{small[1]}")


def small_cells() -> list[tuple[str, int]]:
    """Families in turn, then crowded ones, where order and walls decide."""
    families = [name for name in DRAWS if name != "crowded"]
    rest = _SMALL - _CROWDED
    return [(families[n % len(families)], n) for n in range(rest)] + [("crowded", n) for n in range(_CROWDED)]


def report(verdicts: list[Verdict], proved: list[bool], costs: list[Costs]) -> list[str]:
    """What is printed."""
    yes = Counter(v.answer for v in verdicts if v.cell.feasible)
    no = Counter(v.answer for v in verdicts if not v.cell.feasible)
    both = [v.at_once for v in verdicts if v.at_once is not None]
    wrong = sum(v.answer != "right" for v in verdicts)
    low, high = wilson(wrong, len(verdicts))
    differ = [c for c in costs if not c.agree]
    possible = sum(c.least is not None for c in costs)
    return [
        f"planted cells that can be done: {yes.total()}; planned and proved {yes['right']}, "
        f"wrongly certain that there is no plan {yes['false no']}, not found within the caps "
        f"{yes['not found']}, plan fails its proof {yes['plan fails proof']}",
        f"of these, with both hands at once: {len(both)} planned and proved, in {sum(t > 0 for t in both)} "
        f"both arms move at the same time, {sum(both):.0f} s in all",
        f"planted cells that cannot be done: {no.total()}; told so {no['right']}, planned all the same "
        f"{no['false yes']}",
        f"wrong answers: {wrong} of {len(verdicts)} ({100 * wrong / len(verdicts):.1f} %, Wilson 95 % "
        f"interval {100 * low:.1f} to {100 * high:.1f} %)",
        f"plans made by hand proved anew: {sum(proved)} of {len(proved)}",
        f"against exhaustive search: {len(costs) - len(differ)} of {len(costs)} agree on feasibility and "
        f"cost ({possible} can be done)",
        *(f"  wrong: {v.answer}: {v.cell.why}, number {v.cell.seed}: {v.text}" for v in verdicts
          if v.answer != "right"),
        *(f"  differs: {c.family}, number {c.number}: {c.found}, exhaustive {c.least}" for c in differ),
    ]  # fmt: skip


def main() -> int:
    """Do it all, print, and say whether all is well."""
    cells = list(enumerate(listed()))
    sample = [c for c in cells if c[1].feasible][::_EVERY]
    spawn = multiprocessing.get_context("spawn")
    with tempfile.TemporaryDirectory() as folder, ProcessPoolExecutor(2, mp_context=spawn) as pool:
        root = repeat(Path(folder))
        verdicts = list(pool.map(_judged, cells, root))
        proved = list(pool.map(_certified, sample, root))
        costs = list(pool.map(_compared, small_cells(), root))
    sys.stdout.write("\n".join(report(verdicts, proved, costs)) + "\n")
    well = all(v.answer == "right" for v in verdicts) and all(proved) and all(c.agree for c in costs)
    return 0 if well else 1


if __name__ == "__main__":
    sys.exit(main())
