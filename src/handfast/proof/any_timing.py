"""Two hands out of step: whether two of their elements can meet, at whatever points of them the hands are.

The chart's own proof has both arms at the same instants. Where one hand is late that says nothing. Here the
points of two elements are two independent times; their rectangle is cut until each pair of pieces is further
apart than what both can move within a part of it. What stands still is not asked about: order keeps that.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.project import Project
from handfast.proof.arm_model import ArmModel
from handfast.proof.bodies import load_bodies
from handfast.proof.exact import apart_by
from handfast.proof.joint_path import JointPath, joint_path
from handfast.proof.pieces_table import Index, PieceTable, piece_table
from handfast.proof.replay import standings
from handfast.proof.standing import Standing, carrier_of
from handfast.proof.stl import Array
from handfast.proof.timeline import lay_out

SPARE = 0.01  # what two hands keep between them out of step [m]: more than corrections move an arm by
_CLOSE = 0.05  # exact shapes are measured once two hands move less than this within a part [m]
_FINEST = 1e-3  # a part in which they move less than this, and are not shown apart, is not certified [m]
_MOST = 1000  # parts looked at before giving up, which is "not certified"


@dataclass(frozen=True)
class _Way:
    """One hand in one element. path: None where it stands at q; pieces (P,): of the table; joints (P,): that
    each moves with; T_joint_piece (P, 4, 4): in that joint; stroke (P,): how far jaws may stand off that
    [m]."""

    arm: ArmModel
    paths: tuple[JointPath, ...]
    q: Array
    pieces: Index
    joints: Index
    T_joint_piece: Array
    stroke: Array

    @cached_property
    def duration(self) -> float:
        return float(sum(p.t[-1] for p in self.paths))

    @cached_property
    def speeds(self) -> Array:
        """Of each joint at most, (n,) [rad/s]: speeds are linear between knots."""
        return np.asarray(np.max([np.abs(p.v).max(axis=0) for p in self.paths], axis=0))

    def at(self, time: float) -> Array:
        """Joint values (n,) after so long [s]."""
        for path in self.paths:
            if time <= path.t[-1] or path is self.paths[-1]:
                return np.asarray(path.at(np.array([time]))[0][0])
            time -= path.t[-1]
        return self.q


class AnyTiming:
    """Of one chart; each answer is worked out when it is first asked for. Implements what the executor asks
    (execution/both_hands.py)."""

    def __init__(self, project: Project, chart: Chart) -> None:
        """Raises ArmError, MeshError or OSError where the project's URDF or mesh files cannot be used."""
        self._project, self._chart = project, chart
        self._cell = load_bodies(project)
        self._table = piece_table(self._cell)
        self._standing = standings(project, self._cell, chart)
        self._known: dict[tuple[int, int, str], bool] = {}

    def moving(self, one: int, two: int) -> bool:
        """Whether two elements, of one hand each, cannot meet at whatever points of them the hands are."""
        a, b = sorted((one, two))
        return self._once((a, b, "moving"), lambda: _clear(self._table, self._way(a), self._way(b)))

    def standing(self, after: int, two: int, late: bool) -> bool:
        """Whether the hand of an element, standing where it ends, cannot be met by another's; after 0:
        standing at home. While the chart itself has it stand there the chart's own proof has looked: asked
        about is what the other does before that, or, where this hand goes on too late, behind it."""

        def clear() -> bool:
            still, way = self._still(after, two), self._way(two)
            part = self._beside(after, two, way.duration, late)
            return part is None or _clear(self._table, still, way, part)

        return self._once((after, two, "late" if late else "early"), clear)

    def _beside(self, after: int, two: int, duration: float, late: bool) -> tuple[float, float] | None:
        """The part of an element's motions, in their own time [s], before the chart has the other hand stand
        where an element has ended, or behind that."""
        moves = [m.start for m in lay_out(self._chart).moves if m.element.number == two]
        if not moves:
            return None
        hand = next(h for h in self._chart.hands if h != self._element(two).hand)
        if late:
            coming = [e.start_s for e in self._working() if e.hand == hand and e.number > after]
            part = (max(min(coming, default=np.inf) - moves[0], 0.0), duration)
        else:
            e = self._element(after) if after else None
            part = (0.0, min((e.start_s + e.duration_s if e is not None else 0.0) - moves[0], duration))
        return part if part[0] < part[1] else None

    def ahead_of_time(self) -> None:
        """Work out now what is asked when hands are at elements that the chart has at the same time."""
        working = self._working()
        for e in working:
            for other in working:
                if (
                    e.hand < other.hand
                    and e.start_s < other.start_s + other.duration_s
                    and other.start_s < e.start_s + e.duration_s
                ):
                    self.moving(e.number, other.number)

    def _once(self, key: tuple[int, int, str], work: Callable[[], bool]) -> bool:
        if key not in self._known:
            self._known[key] = work()
        return self._known[key]

    def _working(self) -> list[Element]:
        return [e for e in self._chart.elements if e.kind not in ("hold", "delay")]

    def _element(self, number: int) -> Element:
        return self._chart.element(number)

    def _way(self, number: int) -> _Way:
        e = self._element(number)
        paths = tuple(joint_path(m) for m in e.motions)
        return self._of(e.hand, self._standing[number], paths, _widths(e, self._standing[number]))

    def _still(self, after: int, two: int) -> _Way:
        if after:
            e = self._element(after)
            own = [n for n in self._standing if n > after and self._element(n).hand == e.hand]
            standing = self._standing[min(own)] if own else self._standing[after]
            q = np.array(e.motions[-1].q[-1]) if e.motions else self._standing[after].q[e.hand]
            return self._of(e.hand, standing.at(e.hand, q), (), _widths(e, standing))
        hand = next(h for h in self._chart.hands if h != self._element(two).hand)
        first = self._standing[min(self._standing)]
        return self._of(hand, first, (), (first.widths[hand],))

    def _of(
        self, hand: str, standing: Standing, paths: tuple[JointPath, ...], widths: tuple[float, ...]
    ) -> _Way:
        cell, table, arm = self._cell, self._table, self._cell.arms[hand]
        pieces, joints, poses, strokes = [], [], [], []
        for i, body_index in enumerate(table.body):
            body = cell.bodies[body_index]
            stroke = 0.0
            if body.kind == "item":
                carrier = carrier_of(self._project, cell, standing, body.name)
                if carrier.arm != hand:
                    continue
                joint, T = arm.joints, carrier.T_carrier_item
            elif body.arm != hand or body.joint == 0:
                continue
            elif body.kind == "link":
                joint, T = body.joint, np.eye(4)
            else:
                joint, T = arm.joints, cell.T_joint_grip[hand].copy()
                if body.kind == "finger":
                    middle = (max(widths) + min(widths)) / 2
                    T[:3, 3] += T[:3, 1] * body.side * middle / 2
                    stroke = (max(widths) - min(widths)) / 4
            pieces.append(i)
            joints.append(joint)
            poses.append(T)
            strokes.append(stroke)
        return _Way(
            arm, paths, standing.q[hand], np.array(pieces, dtype=np.int64), np.array(joints, dtype=np.int64),
            np.array(poses), np.array(strokes),
        )  # fmt: skip


def _widths(e: Element, standing: Standing) -> tuple[float, ...]:
    """How wide jaws may stand during an element, and after it [m]."""
    widths = [standing.widths[e.hand]]
    widths += [e.opening] if e.opening is not None else []
    widths += [e.grasp.width] if e.grasp is not None else []
    return tuple(widths)


@dataclass(frozen=True)
class _Look:
    """One hand at one time: T_world_piece (P, 4, 4) of the pieces' bodies, centre (P, 3) of the pieces, and
    what a second of its motion moves them by at most, speed (P,) [m/s]."""

    body: Array
    centre: Array
    speed: Array


def _look(table: PieceTable, way: _Way, time: float) -> _Look:
    poses = way.arm.joint_poses(way.at(time))
    body = poses[way.joints] @ way.T_joint_piece
    centre = np.einsum("pab,pb->pa", body[:, :3, :3], table.centre[way.pieces]) + body[:, :3, 3]
    speed = np.zeros(len(way.pieces))
    if way.paths:
        # Joint by joint: how far a point of the piece may be from the joint's origin, however it is bent.
        links = np.linalg.norm(np.diff(poses[:, :3, 3], axis=0), axis=1)  # (n,), base to first joint first
        own = np.linalg.norm(centre - poses[way.joints, :3, 3], axis=1) + table.radius[way.pieces]
        for j in range(1, way.arm.joints + 1):
            chain = np.array([links[j:k].sum() for k in way.joints])
            speed += np.where(way.joints >= j, way.speeds[j - 1] * (chain + own), 0.0)
    return _Look(body, centre, speed)


def _clear(table: PieceTable, one: _Way, two: _Way, part: tuple[float, float] | None = None) -> bool:
    """Whether they are SPARE apart wherever on their ways they are; part: of the second's, in its time [s],
    all of it if not given."""
    left = [(0.0, one.duration, *((0.0, two.duration) if part is None else part))]
    looks: dict[tuple[int, float], _Look] = {}

    def at(which: int, way: _Way, time: float) -> _Look:
        if (which, time) not in looks:
            looks[which, time] = _look(table, way, time)
        return looks[which, time]

    for count in range(_MOST):
        if not left:
            return True
        a0, a1, b0, b1 = left.pop()
        a, b = at(0, one, (a0 + a1) / 2), at(1, two, (b0 + b1) / 2)
        move_a, move_b = a.speed * (a1 - a0) / 2 + one.stroke, b.speed * (b1 - b0) / 2 + two.stroke
        near = list(_near(table, one, two, a, b, move_a, move_b))
        most = max((move for *_, move in near), default=0.0)
        if not near or (most < _CLOSE and all(_apart(table, one, two, a, b, *pair) for pair in near)):
            continue
        wide = float((a.speed.max() * (a1 - a0)) - (b.speed.max() * (b1 - b0)))
        if max(a.speed.max() * (a1 - a0), b.speed.max() * (b1 - b0)) < _FINEST or count == _MOST - 1:
            return False
        if wide >= 0:
            middle = (a0 + a1) / 2
            left += [(a0, middle, b0, b1), (middle, a1, b0, b1)]
        else:
            middle = (b0 + b1) / 2
            left += [(a0, a1, b0, middle), (a0, a1, middle, b1)]
    return False


def _near(
    table: PieceTable, one: _Way, two: _Way, a: _Look, b: _Look, move_a: Array, move_b: Array
) -> Iterator[tuple[int, int, float]]:
    """Pairs that balls around the pieces do not show apart, with what both may move [m]."""
    moves = move_a[:, None] + move_b[None, :]
    between = np.linalg.norm(a.centre[:, None] - b.centre[None, :], axis=-1)
    between -= table.radius[one.pieces][:, None] + table.radius[two.pieces][None, :]
    for i, j in np.argwhere(between <= moves + SPARE):
        yield int(i), int(j), float(moves[i, j])


def _apart(table: PieceTable, one: _Way, two: _Way, a: _Look, b: _Look, i: int, j: int, move: float) -> bool:
    p, r = table.pieces[one.pieces[i]], table.pieces[two.pieces[j]]
    T_a, T_b = a.body[i] @ p.T_body_shape, b.body[j] @ r.T_body_shape
    return apart_by(p.geometry, T_a, r.geometry, T_b, move + SPARE)
