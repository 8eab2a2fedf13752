"""The search against an exhaustive search: the same feasibility, the same least cost."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.planning.generated.small_cells import compare

# Names of families, and numbers that seed them. Of the crowded ones some can be done and some cannot.
CELLS = [
    ("pegs, one arm", 0),
    ("pegs, two arms", 1),
    ("tower", 2),
    ("plate on pins", 3),
    ("under a plate", 24),
    ("held plate", 5),
    ("far apart", 6),
    ("regrasp", 7),
    *(("crowded", n) for n in (9, 11, 13, 30, 31)),
    ("crossed", 8),
]


@pytest.mark.parametrize(("family", "number"), CELLS)
def test_search_costs_as_little_as_trying_everything(family: str, number: int, tmp_path: Path) -> None:
    costs = compare(family, number, tmp_path)
    assert costs.found == costs.least
