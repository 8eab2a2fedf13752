"""The same product with one arm, with those that are there, and with one more."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from handfast import _kernel
from handfast.model.arm import Arm
from handfast.model.project import Project
from handfast.planning.change import with_arm
from handfast.planning.connect import RESOLUTION
from handfast.planning.layout.elsewhere import elsewhere
from handfast.planning.layout.ground import Ground
from handfast.planning.layout.measure import Bench
from handfast.planning.layout.search import Candidate, tried
from handfast.planning.workspace import Workspace
from handfast.spatial import se3
from handfast.spatial.se3 import Array

_UP = np.array([0.0, 0.0, 1.0])
_STEP = np.deg2rad(30.0)  # between places for one more arm, around the work
_WIDER = (1.0, 1.25, 1.5)  # how far from the work it stands, in distances of the last arm
_SPOTS, _ROUNDS = 3, 12  # places that are planned in, and rounds of the search in each


@dataclass(frozen=True, slots=True)
class Crew:
    """Some arms: their names, what is said of them, and how the product is built by them."""

    arms: tuple[str, ...]
    text: str
    found: Candidate


def crews(bench: Bench, first: Candidate, seed: int) -> Iterator[Crew]:
    """Each arm alone, all that are there, and one more like the last of them where it does best.

    first: the layout with all arms, tried before."""
    layout = first.layout
    names = tuple(a.name for a in layout.cell.arms)
    if len(names) > 1:
        for name in names:
            yield Crew((name,), f"{name} alone", tried(bench, only(layout, name), seed))
    yield Crew(names, "as it is", first)
    best: Candidate | None = None
    for more in _one_more(bench, layout):
        new = tried(bench, more, seed, rounds=_ROUNDS)
        if best is None or new.cost < best.cost:
            best = new
        if not new.refusal:
            break
    if best is not None:
        arm = best.layout.cell.arms[-1]
        x, y, _ = (1e3 * v for v in arm.base.position)
        yield Crew((*names, arm.name), f"and one more like {names[-1]}, at x {x:.0f}, y {y:.0f} mm", best)


def only(project: Project, name: str) -> Project:
    """The project with one of its arms alone, and what is on it."""
    cell = project.cell
    left = replace(
        cell,
        arms=(cell.arm(name),),
        grippers=(cell.gripper_of(name),),
        force_sensors=tuple(s for s in cell.force_sensors if s.arm == name),
    )
    return replace(project, cell=left)


def _one_more(bench: Bench, layout: Project) -> tuple[Project, ...]:
    """Layouts with one more arm on circles around the base part, facing it as the last arm does: those with
    the best measures, the best first. Its hand rests where it is in nobody's way."""
    cell = layout.cell
    like = cell.arms[-1]
    holder, place = cell.place_of(layout.product.base)
    centre = (holder.pose.matrix @ place.pose.matrix)[:3, 3] * [1, 1, 0]
    found: list[tuple[float, Project]] = []
    for wide in _WIDER:
        foot = like.base.matrix.copy()
        foot[:2, 3] = centre[:2] + wide * (foot[:2, 3] - centre[:2])
        for k in range(1, round(2 * np.pi / _STEP)):
            turn = se3.pose(se3.so3_exp(_UP * _STEP * k), np.zeros(3))
            more = _with(layout, like, se3.translation(*centre) @ turn @ se3.translation(*-centre) @ foot)
            ws, name = elsewhere(bench.ws, more), more.cell.arms[-1].name
            if Ground(ws).has_room(name) and _rests_clear(ws, name):
                found.append((bench.measure(more).cost(layout.clearance), more))
    return tuple(more for _, more in sorted(found, key=lambda f: f[0])[:_SPOTS])


def _rests_clear(ws: Workspace, name: str) -> bool:
    """Whether a hand at home keeps its distance from all that stands at the start, other hands among it."""
    state = ws.start()
    home = ws.hands[name].chain.home[None]
    clear = float(_kernel.clearance(ws.hand_cover(state, name), ws.world(state, name), home)[0])
    return clear >= ws.margin + RESOLUTION / 2


def _with(layout: Project, like: Arm, T_base: Array) -> Project:
    name = "third" if len(layout.cell.arms) == 2 else "another"
    return replace(layout, cell=with_arm(layout.cell, like, name, T_base))
