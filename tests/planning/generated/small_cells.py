"""Cells of up to four parts whose answer is not known: the search against all orders and routes."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from tests.planning.generated.certificates import CERTIFICATES
from tests.planning.generated.exhaustive import cheapest
from tests.planning.generated.families import FAMILIES, crowded
from tests.planning.generated.folder import write_folder
from tests.planning.generated.planted import read

from handfast.planning.search import Found, search
from handfast.planning.workspace import make_workspace

DRAWS = {**FAMILIES, "crowded": crowded, **CERTIFICATES}
_SEED = 7


@dataclass(frozen=True)
class Costs:
    """Least cost of a cell as the search and as the exhaustive search have it; None: it cannot be done."""

    family: str
    number: int
    found: int | None
    least: int | None

    @property
    def agree(self) -> bool:
        """Whether both say the same."""
        return self.found == self.least


def compare(family: str, number: int, folder: Path) -> Costs:
    """Both searches on one cell, each with a workspace of its own."""
    project = read(write_folder(DRAWS[family](np.random.default_rng([number, 7])), folder))
    found = search(make_workspace(project), seed=_SEED)
    every = cheapest(make_workspace(project), _SEED)
    cost = found.proposal.cost if isinstance(found, Found) else None
    return Costs(family, number, cost, every[0] if every else None)
