"""24 more example projects with one number a little off through check, plan and verify.

    python -m tests.verification.mutated_plans

Each ends with findings that say where, with a plan that holds, or with reasons why there is none, and no file
is changed. Ends with 1 if one does not.
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from pathlib import Path

from tests.files.first_fit_copy import copy_to
from tests.workflow.test_mutated_projects import PLANNED, judge, nudged

_COUNT = 24


def main() -> int:
    """Do it all, print, and say whether all is well."""
    ends: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as scratch:
        folder = copy_to(Path(scratch))
        for seed in range(PLANNED, PLANNED + _COUNT):
            try:
                ends[judge(folder, *nudged(seed), planned=True)] += 1
            except AssertionError as wrong:
                ends["wrong"] += 1
                sys.stdout.write(f"  wrong: number {seed}, {nudged(seed)[0]}: {wrong}\n")
    counted = ", ".join(f"{how} {count}" for how, count in sorted(ends.items()))
    sys.stdout.write(f"{_COUNT} projects with a number a little off: {counted}\n")
    return 1 if ends["wrong"] else 0


if __name__ == "__main__":
    sys.exit(main())
