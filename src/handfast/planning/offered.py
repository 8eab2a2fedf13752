"""The change that is offered with a no: tried in order of size until one makes the whole project feasible."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from itertools import islice

import numpy as np

from handfast.model.change import Change
from handfast.model.no_plan import NoPlan
from handfast.planning.change import applied, candidates
from handfast.planning.conflicts import holds_in
from handfast.planning.explain import MANY, works_alone
from handfast.planning.leg import Leg
from handfast.planning.search import Found, search
from handfast.planning.shut_in import at_home
from handfast.planning.stuck import Stuck, Tried
from handfast.planning.unit import units_of
from handfast.planning.workspace import Workspace, make_workspace
from handfast.spatial.se3 import Array

_CHANGES = 160  # changes looked at before giving up on finding one
_WHOLE = 4  # how many of each kind are planned as a whole, of a product of a dozen parts
_LEAST = 2  # the same of a larger one, at least
_DOZEN = 12
_FARTHER = 1.3  # where one does not do for the whole, the next that moves the same thing goes so much farther
_TOUCHING = 1e-4  # what stands on a table overlaps it by rounding [m]


def with_change(ws: Workspace, stuck: Stuck, seed: int) -> NoPlan:
    """The no with the first change that works: every unit by itself, then all of the project."""
    whole, shut = Counter[str](), [h for h in ws.hands if at_home(ws, h)]
    most = max(_LEAST, _WHOLE * _DOZEN // max(_DOZEN, len(ws.project.product.mates)))
    worth = dict.fromkeys(candidates(ws.project, stuck.no, stuck.unit.parts[0], _hit(stuck)))
    order, least = [stuck.unit.name], dict[tuple[str, str], float]()
    for change in islice(worth, _CHANGES):
        what = (change.kind, change.target)
        if whole[change.kind] >= most or _size(change) < least.get(what, 0.0):
            continue
        other = make_workspace(applied(ws.project, change), ws)
        if any(at_home(other, h) for h in shut) or _stands_in_another(other, change):
            continue
        failed = _cannot(other, order)
        if failed is not None:  # the next change is likely to fail at the same one
            order = [failed, *(name for name in order if name != failed)]
            continue
        whole[change.kind] += 1
        quick = replace(other, caps=other.caps.smaller())
        if isinstance(search(quick, seed=seed, known=_known(other, stuck)), Found):
            return replace(stuck.no, change=f"{change.file}: {change.text}", changes=(change,))
        if change.kind in ("move holder", "move obstacle", "move arm"):
            least[what] = _FARTHER * _size(change)
    return stuck.no


def _known(ws: Workspace, stuck: Stuck) -> Tried | None:
    """Of many units: what was learned before that holds after a change, too. It is sooner confirmed than
    learned again, order by order."""
    units = units_of(ws.project.product)
    if len(units) <= MANY:
        return None
    proven = [c for c in stuck.tried.clauses if c.proven]
    return Tried(Leg(ws.start()), clauses=[c for c in proven if holds_in(ws, c, units)])


def _hit(stuck: Stuck) -> tuple[str, ...]:
    """What was in the way, obstacles first, then what was hit most."""
    counts = Counter(f.hit for f in stuck.failures if f.hit)
    ranked = sorted(counts, key=lambda name: (not name.startswith("obstacle "), -counts[name], name))
    return tuple(name.partition(" ")[2] or name for name in ranked)


def _cannot(ws: Workspace, order: list[str]) -> str | None:
    """The first unit that no route does by itself, those named in `order` looked at first; None if all can be
    done."""
    units = units_of(ws.project.product)
    place = {name: k for k, name in enumerate(order)}
    for unit in sorted(units, key=lambda u: place.get(u.name, len(order))):
        if not works_alone(ws, unit, units):
            return unit.name
    return None


def _size(change: Change) -> float:
    return float(np.linalg.norm(change.value))


def _stands_in_another(ws: Workspace, change: Change) -> bool:
    """Whether a moved holder overlaps what stands around it, by the boxes along the axes of the world."""
    if change.kind != "move holder":
        return False
    around = {name: _bounds(poses, halves) for name, poses, halves in ws.fixed_boxes}
    low, high = around.pop(f"holder {change.target}")
    return any(
        (np.minimum(high[:, None], top) - np.maximum(low[:, None], bottom) > _TOUCHING).all(axis=2).any()
        for bottom, top in around.values()
    )


def _bounds(poses: Array, halves: Array) -> tuple[Array, Array]:
    """Lowest and highest corners (k, 3) of boxes, along the axes of the world."""
    middle, reach = poses[:, :3, 3], np.einsum("kij,kj->ki", np.abs(poses[:, :3, :3]), halves)
    return middle - reach, middle + reach
