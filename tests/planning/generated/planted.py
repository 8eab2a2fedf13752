"""Cells whose answer is known before anything is planned.

planted.json lists 200: for those that can be done, a layout for which the proof certified a plan made by
hand; for the others a certificate. `python -m tests.planning.generated.planted` draws the list anew.
"""

from __future__ import annotations

import hashlib
import json
import tempfile
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
from tests.planning.generated.certificates import CERTIFICATES
from tests.planning.generated.families import FAMILIES
from tests.planning.generated.folder import write_folder
from tests.planning.generated.recipe import Recipe
from tests.planning.generated.witness import Witness

from handfast.files.project_reader import read_folder
from handfast.model.project import Project
from handfast.proof import verify

LIST = Path(__file__).with_name("planted.json")
_FEASIBLE, _INFEASIBLE, _ATTEMPTS = 120, 80, 40


@dataclass(frozen=True)
class Planted:
    """What it takes to write one cell; digest: sha256 of its YAML files: a changed generator is seen."""

    feasible: bool
    why: str
    seed: int
    attempt: int
    digest: str = ""

    def recipe(self) -> Recipe:
        """The cell as drawn."""
        draw = FAMILIES[self.why] if self.feasible else CERTIFICATES[self.why]
        recipe = draw(np.random.default_rng([self.seed, self.attempt, self.feasible]))
        recipe.why = self.why
        if not self.feasible:
            recipe.moves = []
        return recipe

    def write(self, folder: Path) -> tuple[Recipe, Project]:
        """The cell written and read again. Raises ValueError if it is not the one that is listed."""
        recipe = self.recipe()
        write_folder(recipe, folder)
        if self.digest not in ("", digest(folder)):
            raise ValueError(f"{self.why}, seed {self.seed}: the generator changed; draw planted.json anew")
        return recipe, read(folder)


def digest(folder: Path) -> str:
    """sha256 of the YAML files."""
    return hashlib.sha256(b"".join(p.read_bytes() for p in sorted(folder.glob("*.yaml")))).hexdigest()


def read(folder: Path) -> Project:
    """The project of a folder that has no mistakes in writing."""
    reading = read_folder(folder)
    if reading.project is None:
        raise ValueError(str(reading.findings))
    return reading.project


def listed() -> list[Planted]:
    """The 200 cells, those that can be done first."""
    return [Planted(**row) for row in json.loads(LIST.read_text())]


def certified(project: Project, recipe: Recipe) -> bool:
    """Whether the plan made by hand holds before the proof."""
    try:
        chart = Witness(project, recipe).chart()
    except AssertionError:
        return False  # an arm does not reach
    return verify(project, chart, "0" * 64).holds


def plant(feasible: bool, number: int, folder: Path) -> Planted:
    """One cell; layouts whose plan the proof does not certify are drawn anew."""
    names = list(FAMILIES if feasible else CERTIFICATES)
    for attempt in range(_ATTEMPTS if feasible else 1):
        cell = Planted(feasible, names[number % len(names)], number, attempt)
        where = folder / f"{feasible}-{number}-{attempt}"
        recipe, project = cell.write(where)
        if not feasible or certified(project, recipe):
            return Planted(**{**asdict(cell), "digest": digest(where)})
    raise ValueError(f"no layout of {names[number % len(names)]!r} in {_ATTEMPTS} has a plan that holds")


def main() -> None:
    """Draw all cells and write the list."""
    with tempfile.TemporaryDirectory() as folder:
        cells = [plant(True, n, Path(folder)) for n in range(_FEASIBLE)]
        cells += [plant(False, n, Path(folder)) for n in range(_INFEASIBLE)]
    LIST.write_text("[\n" + ",\n".join(json.dumps(asdict(c)) for c in cells) + "\n]\n")


if __name__ == "__main__":
    main()
