"""Cells that one change would mend: is a change offered, and does it hold when it is made?

    python -m tests.verification.broken_cells [SEED]

A generator takes a project that can be planned and breaks it by one thing: a holder out of reach, jaws too
narrow, a lid over what has to be picked up, screws that the driver does not get at, two mates that each
need the other first, arms let into the table, an arm taken away. What it did is known, so that a single
change exists: to undo it. Where a no is given, the change that is offered is made; the project it gives has
to keep every rule and is planned as a user would. Ends with 1 if the
cause is not among those told, or if fewer than nine of ten are mended.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import numpy as np

from handfast.checking.check import check, check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.mates.grasps import grip_widths
from handfast.model.cell import Obstacle
from handfast.model.change import Change
from handfast.model.chart import Chart
from handfast.model.no_plan import NoPlan
from handfast.model.project import Project
from handfast.model.shape import Box, Solid
from handfast.planning import plan
from handfast.planning.change import applied
from handfast.spatial.pose import Pose

PROJECTS = Path(__file__).parents[2] / "projects"
NAMES = ("first-fit", "dosing-pump", "hand-grip", "relay-frame", "valve-bank")
_SEED = 7
_MENDED = 0.9


@dataclass(frozen=True, slots=True)
class Broken:
    """A cell that was broken: how, and a cause that has to be told for it."""

    name: str
    how: str
    cause: tuple[str, ...]
    project: Project


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of it. no_s: processor time up to the answer, change included [s]."""

    broken: Broken
    no: NoPlan | None
    mended: str
    no_s: float


Draw = Callable[[Project, np.random.Generator], "Broken | None"]


def _out_of_reach(project: Project, rng: np.random.Generator) -> Broken | None:
    """A holder from which parts are taken, 0.7 to 0.9 m outwards of where it is: past both arms' length."""
    holders = [h for h in project.cell.holders if any(p.holds in _moved(project) for p in h.places)]
    holder = holders[rng.integers(len(holders))]
    out = np.array(holder.pose.position[:2])
    out = np.array([0.0, 1.0]) if abs(out[0]) < 0.1 else np.array([np.sign(out[0]), 1.0]) / np.sqrt(2)
    x, y = out * rng.uniform(0.7, 0.9)
    change = Change("move holder", holder.name, (float(x), float(y), 0.0), "", "")
    how = f"{holder.name} moved by {x * 1e3:+.0f}, {y * 1e3:+.0f} mm"
    return Broken(project.name, how, ("out of reach",), applied(project, change))


def _narrow(project: Project, rng: np.random.Generator) -> Broken | None:
    """All jaws, or those of one arm, open less than one of the parts needs."""
    widths = {p.name: grip_widths(p.features) for p in project.product.parts if p.name in _moved(project)}
    name = sorted(n for n, w in widths.items() if w)[rng.integers(len([w for w in widths.values() if w]))]
    opening = round(widths[name][0] * rng.uniform(0.5, 0.9), 4)
    grippers = tuple(replace(g, opening=(0.0, opening)) for g in project.cell.grippers)
    how = f"jaws open {opening * 1e3:.1f} mm, {name} is {widths[name][0] * 1e3:.1f} mm wide"
    return Broken(
        project.name,
        how,
        ("jaw too narrow",),
        replace(project, cell=replace(project.cell, grippers=grippers)),
    )


def _lid(project: Project, rng: np.random.Generator) -> Broken | None:
    """A plate over the place where a part waits."""
    parts = sorted(_moved(project))
    part = parts[rng.integers(len(parts))]
    return _covered(project, part, 0.08, ("collision at grasp", "tool does not fit"))


def _hood(project: Project, rng: np.random.Generator) -> Broken | None:
    """A plate over screws."""
    screws = sorted(m.part for m in project.product.mates if m.kind == "screw")
    if not screws:
        return None
    return _covered(project, screws[rng.integers(len(screws))], 0.06, ("tool does not fit",))


def _covered(project: Project, part: str, side: float, cause: tuple[str, ...]) -> Broken:
    holder, place = project.cell.place_of(part)
    x, y, z = (holder.pose.matrix @ place.pose.matrix)[:3, 3]
    at = (round(float(x), 3), round(float(y), 3), round(float(z) + 0.065, 3))
    plate = Obstacle("plate", (Solid(Box((side, side, 0.01)), Pose(at)),))
    how = f"a plate {side * 1e3:.0f} mm wide 60 mm over {part}"
    cell = replace(project.cell, obstacles=(*project.cell.obstacles, plate))
    return Broken(project.name, how, cause, replace(project, cell=cell))


def _ring(project: Project, rng: np.random.Generator) -> Broken | None:
    """A mate that needs a later one first."""
    mates = project.product.mates
    later = [(a.name, b.name) for b in mates for a in mates if a.part in b.joined and a.part != b.part]
    if not later:
        return None
    first, then = later[rng.integers(len(later))]
    turned = tuple(replace(m, needs=(*m.needs, then)) if m.name == first else m for m in mates)
    product = replace(project.product, mates=turned, order_given=False)
    how = f"{first} is to need {then}, which it goes before"
    return Broken(project.name, how, ("order contradicts itself",), replace(project, product=product))


def _sunk(project: Project, rng: np.random.Generator) -> Broken | None:
    """All arms let into the table up to their shoulders."""
    depth = float(rng.uniform(0.12, 0.2))
    change = Change("move arm", "every arm", (0.0, 0.0, -round(depth, 3)), "", "")
    how = f"arms {depth * 1e3:.0f} mm lower"
    return Broken(project.name, how, ("collision on the way",), applied(project, change))


def _one_arm(project: Project, rng: np.random.Generator) -> Broken | None:
    """One arm less, where a part has to be held while another is fastened."""
    if all(m.held_until is None for m in project.product.mates):
        return None
    cell, gone = project.cell, project.cell.arms[rng.integers(len(project.cell.arms))].name
    alone = replace(
        cell,
        arms=tuple(a for a in cell.arms if a.name != gone),
        grippers=tuple(g for g in cell.grippers if g.arm != gone),
        force_sensors=tuple(s for s in cell.force_sensors if s.arm != gone),
    )
    errors = tuple(s for s in project.errors if gone not in s.acts_on)
    causes = ("hand is taken", "out of reach")
    return Broken(project.name, f"no {gone} arm", causes, replace(project, cell=alone, errors=errors))


def _moved(project: Project) -> set[str]:
    """Parts that hands take up with their jaws."""
    return {m.part for m in project.product.mates if m.tool is None}


DRAWS: tuple[Draw, ...] = (_out_of_reach, _narrow, _lid, _hood, _ring, _sunk, _one_arm)


def broken_cells(seed: int) -> Iterator[Broken]:
    """Every project broken in every way that it can be, the amounts drawn."""
    for name in NAMES:
        checked = check_folder(PROJECTS / name)
        if not isinstance(checked, CheckedProject):
            raise ValueError(f"{name} is refused: {checked}")
        rng = np.random.default_rng([seed, *name.encode()])
        for draw in DRAWS:
            broken = draw(checked.project, rng)
            if broken is not None:
                yield broken


def outcome(broken: Broken) -> Outcome:
    """Ask for a plan, make the change that is offered, plan that."""
    started = time.process_time()
    # Straight to the planner, for what the checks would refuse on sight.
    no = plan(cast(CheckedProject, SimpleNamespace(project=broken.project)), seed=_SEED)
    took = time.process_time() - started
    if not isinstance(no, NoPlan):
        return Outcome(broken, None, "planned although it was broken", took)
    if not no.changes:
        return Outcome(broken, no, "no change offered", took)
    return Outcome(broken, no, _after(applied(broken.project, no.changes[0])), took)


def _after(project: Project) -> str:
    """Empty if the changed project keeps the rules and has a plan of every mate."""
    checked = check(project)
    if not isinstance(checked, CheckedProject):
        return f"the changed project is refused: {checked}"
    chart = plan(checked, seed=_SEED)
    if not isinstance(chart, Chart):
        return f"no plan after the change: {chart.mate}"
    return "" if set(chart.mates) == {m.name for m in project.product.mates} else "a mate is missing"


def main() -> int:
    """Do it all, print, and say whether all is well."""
    seed = int(sys.argv[1]) if len(sys.argv) > 1 else 1
    outcomes = []
    for broken in broken_cells(seed):
        found = outcome(broken)
        outcomes.append(found)
        causes = ", ".join(f"{c.count} {c.cause}" for c in found.no.causes) if found.no else "-"
        offer = found.no.change if found.no and found.no.change else "-"
        sys.stdout.write(
            f"{broken.name}: {broken.how}\n  no in {found.no_s:.1f} s of processor time: {causes}\n"
            f"  offered: {offer}{'; ' + found.mended if found.mended else '; made and planned'}\n"
        )
        sys.stdout.flush()
    planned = [o for o in outcomes if o.no is None]
    other = [o for o in outcomes if o.no and not {c.cause for c in o.no.causes} & set(o.broken.cause)]
    mended = sum(not o.mended for o in outcomes)
    asked = len(outcomes) - len(planned)
    sys.stdout.write(
        f"{len(outcomes)} cells broken by one thing: {len(planned)} can be planned another way, in "
        f"{len(other)} the cause is not among those told; offered change made and planned in "
        f"{mended} of {asked}\n"
    )
    return 0 if asked >= 10 and not other and mended >= _MENDED * asked else 1


if __name__ == "__main__":
    sys.exit(main())
