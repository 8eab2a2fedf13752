"""How good a layout is, before anything is planned in it."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, pairwise, permutations, product

import numpy as np

from handfast import _kernel
from handfast.kinematics.inverse import inverse
from handfast.mates.grasps import grasps
from handfast.model.layout_measures import Measures
from handfast.model.project import Project
from handfast.planning.hand import Hand
from handfast.planning.layout.elsewhere import elsewhere
from handfast.planning.layout.needs import Need, Task, tasks_of
from handfast.planning.lower_bound import least_time
from handfast.planning.pick import APPROACH
from handfast.planning.workspace import Workspace, make_workspace
from handfast.spatial import se3
from handfast.spatial.se3 import Array

# What it costs to change hands or grasps beside the ways: grips, settling. Common practice, no source.
HANDOVER_S, SET_DOWN_S = 4.0, 6.0


@dataclass(frozen=True, eq=False, slots=True)
class Reached:
    """Of one need by one arm. ok: (g,) grasps by which it is reached with clearance; q: (g, n) for those, the
    branch nearest to home; clear: the widest clearance of the links among them [m], -inf if none."""

    ok: np.ndarray
    q: Array
    clear: float

    @property
    def share(self) -> float:
        """Of all grasps."""
        return float(self.ok.mean()) if len(self.ok) else 0.0


_All = dict[tuple[str, str, int], Reached]  # by hand, mate, and number of the need


class Bench:
    """A project whose layouts are measured: what stays the same however arms and holders stand."""

    def __init__(self, project: Project) -> None:
        """project: one that was checked."""
        self.ws: Workspace = make_workspace(project)
        self.tasks: tuple[Task, ...] = tasks_of(self.ws)

    def measure(self, layout: Project) -> Measures:
        """The measures of the project in another layout: arms and holders stand elsewhere, or there are other
        arms like those it has."""
        ws = elsewhere(self.ws, layout)
        reached = _all(ws, self.tasks)
        seconds = {t.mate: _seconds(ws, t, reached) for t in self.tasks}
        undone = {t.mate for t in self.tasks if not self._can_be_held(ws, t, reached)}
        undone |= {mate for mate, s in seconds.items() if not np.isfinite(s)}
        held_by = {m.name: m.stands for m in layout.product.mates if (m.stands or "").startswith("hand.")}
        undone |= {mate for mate, hand in held_by.items() if hand not in {f"hand.{h}" for h in ws.hands}}
        best = [
            max((reached[h, t.mate, i] for h in ws.hands), key=lambda r: (r.share, r.clear))
            for t in self.tasks
            for i in range(len(t.needs))
        ]
        return Measures(
            undone=tuple(t.mate for t in self.tasks if t.mate in undone),
            shares=_shares(ws, self.tasks, reached),
            share=float(np.mean([r.share for r in best])),
            clearance=min((r.clear for r in best if r.ok.any()), default=-np.inf),
            crowding=_crowding(ws, reached),
            travel_s=sum(s for mate, s in seconds.items() if mate not in undone),
        )

    def _can_be_held(self, ws: Workspace, task: Task, reached: _All) -> bool:
        """Whether one hand can stay at the part while another does the mate that retains it."""
        until = next((t for t in self.tasks if t.mate == task.held_until), None)
        if until is None:
            return True
        for a, b in permutations(ws.hands, 2):
            mine = reached[a, task.mate, len(task.needs) - 1]
            theirs = reached[b, until.mate, len(until.needs) - 1]
            if mine.ok.any() and theirs.ok.any():
                one, other = ws.hands[a], ws.hands[b]
                gaps = _kernel.between(
                    one.links_cover, mine.q[mine.ok], other.links_cover, theirs.q[theirs.ok], far=0.01
                )
                if (gaps > 0).any():
                    return True
        return False


def _all(ws: Workspace, tasks: tuple[Task, ...]) -> _All:
    """Equal needs (a tool on its stand, for every screw) are looked at once."""
    once: dict[tuple[str, str, str, str, bytes], Reached] = {}
    out: _All = {}
    for hand in ws.hands:
        for task in tasks:
            for i, need in enumerate(task.needs):
                key = (hand, need.item, need.holder, need.when, need.T_holder_item.tobytes())
                if key not in once:
                    once[key] = _reached(ws, hand, need)
                out[hand, task.mate, i] = once[key]
    return out


def _reached(ws: Workspace, hand: str, need: Need) -> Reached:
    """What an arm reaches with clearance: its links at the grasp, the whole hand a straight line before it.

    Parts are left out: what lies near changes as the product grows, and the planner looks at it.
    """
    h, item = ws.hands[hand], ws.items[need.item]
    found = grasps(h.gripper, need.item, item.features, item.mass, item.friction)
    if not found:
        return Reached(np.zeros(0, dtype=bool), np.zeros((0, h.chain.n)), -np.inf)
    grips = np.array([se3.inverse(g.T_grip_part.matrix) for g in found])
    poses = ws.project.cell.holder(need.holder).pose.matrix @ need.T_holder_item
    T_grip = (poses[:, None] @ grips[None]).reshape(-1, 4, 4)
    state = ws.start().without({p.name for p in ws.project.product.parts} | {need.item})
    world = ws.world(state, hand)
    ok, q, clear = _nearest_free(h, h.links_cover, world, T_grip, 0.0)
    before = T_grip @ se3.translation(0, 0, -APPROACH)
    ok &= _nearest_free(h, ws.hand_cover(state, hand), world, before, ws.margin)[0]
    # Of poses that serve equally, each grasp takes the one with the widest clearance.
    wide = np.where(ok, clear, -np.inf).reshape(len(poses), len(grips))
    pick = wide.argmax(axis=0) * len(grips) + np.arange(len(grips))
    return Reached(ok[pick], q[pick], float(wide.max()))


def _nearest_free(
    hand: Hand, cover: _kernel.Cover, world: _kernel.World, T_grip: Array, margin: float
) -> tuple[np.ndarray, Array, Array]:
    """Of grip poses (m, 4, 4): which are reached with clearance (m,), the free branch nearest to home (m, n),
    and its clearance (m,) [m]."""
    home = hand.chain.home
    q, valid = inverse(hand.chain, hand.tip_for(T_grip), home)
    clear = np.full(valid.shape, -np.inf)
    if valid.any():
        clear[valid] = _kernel.clearance(cover, world, q[valid])
    far = np.where(clear >= margin, np.abs(np.where(valid[..., None], q, 0) - home).max(axis=2), np.inf)
    best, row = far.argmin(axis=1), np.arange(len(q))
    return np.isfinite(far[row, best]), q[row, best], clear[row, best]


def _shares(ws: Workspace, tasks: tuple[Task, ...], reached: _All) -> tuple[tuple[str, str, float], ...]:
    by: dict[tuple[str, str], list[float]] = {}
    for hand in ws.hands:
        for task in tasks:
            for i, need in enumerate(task.needs):
                by.setdefault((hand, need.holder), []).append(reached[hand, task.mate, i].share)
    return tuple((hand, holder, float(np.mean(v))) for (hand, holder), v in sorted(by.items()))


def _seconds(ws: Workspace, task: Task, reached: _All) -> float:
    """Of the quickest way to do a mate: by one hand with one grasp, handed over, or set down and grasped
    anew; infinite if none."""
    out = [np.inf]
    for name, hand in ws.hands.items():
        stops = [reached[name, task.mate, i] for i in range(len(task.needs))]
        all_of_them = np.logical_and.reduce([s.ok for s in stops])
        if all_of_them.any():
            rest = np.broadcast_to(hand.chain.home, stops[0].q[all_of_them].shape)
            way = [rest, *(s.q[all_of_them] for s in stops), rest]
            out.append(float(np.sum([_time(hand, a, b) for a, b in pairwise(way)], axis=0).min()))
    if task.handover:
        sets_down = any(h.kind == "set-down" for h in ws.project.cell.holders)
        for a, b in product(ws.hands, repeat=2):
            first, second = reached[a, task.mate, 0], reached[b, task.mate, len(task.needs) - 1]
            if first.ok.any() and second.ok.any() and (a != b or sets_down):
                ways = [_there_and_back(ws.hands[h], r) for h, r in ((a, first), (b, second))]
                out.append(sum(ways) + (HANDOVER_S if a != b else SET_DOWN_S))
    return min(out)


def _there_and_back(hand: Hand, stop: Reached) -> float:
    q = stop.q[stop.ok]
    return float(2 * _time(hand, np.broadcast_to(hand.chain.home, q.shape), q).min())


def _time(hand: Hand, qa: Array, qb: Array) -> Array:
    """Least time of straight joint motions from rest to rest, (k,) [s]."""
    return least_time(hand.chain, np.abs(qb - qa))


def _crowding(ws: Workspace, reached: _All) -> float:
    """Share of pairs of different needs, each at its arm's configuration nearest to home, at which two arms
    come nearer than the clearance that is kept."""
    near: list[bool] = []
    state = ws.start()
    for a, b in combinations(ws.hands, 2):
        mine, theirs = (
            {
                key[1:]: _nearest_home(ws.hands[h], r)
                for key, r in reached.items()
                if key[0] == h and r.ok.any()
            }
            for h in (a, b)
        )
        if mine and theirs:
            one, other = np.array(list(mine.values())), np.array(list(theirs.values()))
            covers = ws.hand_cover(state, a), ws.hand_cover(state, b)
            gaps = _kernel.between(covers[0], one, covers[1], other, far=2 * ws.margin)
            near += [
                bool(gaps[i, j] < ws.margin)
                for i, x in enumerate(mine)
                for j, y in enumerate(theirs)
                if x != y
            ]
    return float(np.mean(near)) if near else 0.0


def _nearest_home(hand: Hand, stop: Reached) -> Array:
    q = stop.q[stop.ok]
    return np.asarray(q[np.abs(q - hand.chain.home).max(axis=1).argmin()])
