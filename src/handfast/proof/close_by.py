"""What a motion that was looked at before says of one that lies close to it.

Of a motion it is found out once how far each pair stays apart all the way. Another motion of the same things,
none of whose points is ever further from where the first had it than a bound, leaves them apart by what the
bound has not used up: such pairs need not be looked at again.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from handfast.proof.bodies import CellBodies
from handfast.proof.bounds import lower_bounds, may_meet, relative_travel
from handfast.proof.exact import ROUNDING, gap_up_to
from handfast.proof.joint_path import JointPath
from handfast.proof.pieces_table import Index, PieceTable
from handfast.proof.scan import Scan, placed
from handfast.proof.stl import Array
from handfast.proof.stretch import Nodes, Stretch, look, movers, rigid_groups
from handfast.proof.tally import Tally

FAR = 30e-3
"""Further apart than this [m] nothing has to be known."""
ENOUGH = 0.25
"""A gap is known well enough if what it may be too small by is this share of it."""
NEAR = 0.5e-3
"""A gap is not worth knowing closer than this [m]."""
CHUNK = 256
"""Instants looked at in one go."""
KEPT = 8
"""Motions that are kept of one element."""


@dataclass
class CloseBy:
    """A motion to compare with. gaps (K,): how far each pair of the table stays apart at least, all the way
    [m], at most FAR; made when they are first of use."""

    stretch: Stretch
    gaps: Array | None = None


@dataclass
class Before:
    """The motions of one element that were looked at before: the same pairs of the same things."""

    motions: list[CloseBy] = field(default_factory=list)

    def shown(self, cell: CellBodies, table: PieceTable, stretch: Stretch, spare: Array) -> Index:
        """Places in the table of the pairs that stay more than `spare` (K,) [m] apart, by what was found of a
        motion close by."""
        off = [displacement(cell, table, known.stretch, stretch) for known in self.motions]
        nearest = min(range(len(off)), key=lambda i: float(off[i].max()), default=None)
        if nearest is None or off[nearest].max() > FAR / 2:
            if len(self.motions) < KEPT:
                self.motions.append(CloseBy(stretch))
            return np.zeros(0, dtype=np.int64)
        known = self.motions[nearest]
        if known.gaps is None:
            known.gaps = gaps(cell, table, known.stretch, spare)
        left = known.gaps - off[nearest][table.first] - off[nearest][table.second]
        return np.flatnonzero(left > spare)


def displacement(cell: CellBodies, table: PieceTable, before: Stretch, now: Stretch) -> Array:
    """How far any point of each piece is at most, at any time of `now`, from where it is at some one time of
    `before`, the same for all pieces (P,) [m]; infinite where they cannot be compared.

    By q - q' = d the points of a piece move by at most the sum over joints of |d_i| times how far they can
    get from that joint's origin, whatever the joints do in between.
    """
    arm_of, joint_of = movers(cell, table, now)
    jaws_move = any(a != b for stretch in (before, now) for a, b in stretch.jaws.values())
    if jaws_move or (arm_of, *before.paths) != (movers(cell, table, before)[0], *now.paths):
        return np.full(len(table.pieces), np.inf)
    centre, apart = _fixed_apart(cell, table, before, now)
    for name, arm in cell.arms.items():
        own = np.flatnonzero(np.array([of == name for of in arm_of]) & (joint_of > 0))
        along = np.concatenate([[0.0], np.cumsum(arm.reach)])
        links = along[joint_of[own] - 1][:, None] - along[:-1][None, :]
        lever = links + (np.linalg.norm(centre[own], axis=1) + table.radius[own])[:, None]
        lever *= joint_of[own][:, None] >= np.arange(1, arm.joints + 1)[None, :]
        turned = (
            _joints_apart(before.paths[name][1], now.paths[name][1])
            if name in now.paths
            else np.abs(now.q[name] - before.q[name])[None]
        )
        apart[own] += (turned @ lever.T).max(axis=0)
    return apart


def _fixed_apart(cell: CellBodies, table: PieceTable, before: Stretch, now: Stretch) -> tuple[Array, Array]:
    """Centres of the pieces in the frames of what they move with now (P, 3), and how far their points are
    from where they were in those frames (P,)."""
    there, here = (_in_carrier(cell, stretch)[table.body] for stretch in (before, now))
    centres = [np.einsum("pab,pb->pa", T[:, :3, :3], table.centre) + T[:, :3, 3] for T in (there, here)]
    turned = np.linalg.norm(here[:, :3, :3] - there[:, :3, :3], axis=(1, 2))
    return centres[1], np.linalg.norm(centres[1] - centres[0], axis=1) + turned * table.radius


def _in_carrier(cell: CellBodies, stretch: Stretch) -> Array:
    """Pose of each body in the frame of what it moves with (B, 4, 4): a joint of an arm, or the world."""
    out = np.tile(np.eye(4), (len(cell.bodies), 1, 1))
    for i, body in enumerate(cell.bodies):
        if body.kind == "item":
            out[i] = stretch.carriers[body.name].T_carrier_item
        elif body.T_world_body is not None:
            out[i] = body.T_world_body
        elif body.kind != "link":
            out[i] = cell.T_joint_grip[body.arm]
        if body.kind == "finger":
            out[i, :3, 3] += body.side * stretch.jaws[body.arm][0] / 2 * out[i, :3, 1]
    return out


def _joints_apart(before: JointPath, now: JointPath) -> Array:
    """How far the joints are apart at most in each segment (k, n) [rad].

    Times correspond knot by knot, or in proportion where there are not as many. In a segment both are
    parabolas of one parameter, and so is their difference: it lies in the hull of its three Bezier points.
    """
    if len(before.t) == len(now.t):
        (q0, v0), (q1, v1) = (before.q, before.v), (now.q, now.v)
        h0, h1 = np.diff(before.t)[:, None], np.diff(now.t)[:, None]
    else:
        share = np.unique(np.concatenate([before.t / before.t[-1], now.t / now.t[-1]]))
        (q0, v0, _), (q1, v1, _) = before.at(share * before.t[-1]), now.at(share * now.t[-1])
        h0, h1 = (np.diff(share)[:, None] * path.t[-1] for path in (before, now))
    off = q1 - q0
    middle = off[:-1] + (h1 * v1[:-1] - h0 * v0[:-1]) / 2
    return np.asarray(np.maximum(np.maximum(np.abs(off[:-1]), np.abs(off[1:])), np.abs(middle)))


def gaps(cell: CellBodies, table: PieceTable, stretch: Stretch, spare: Array) -> Array:
    """How far each pair of the table stays apart at least in the whole stretch (K,) [m], at most FAR; nothing
    where that is not worth knowing: no more than NEAR beyond `spare` (K,)."""
    arm_of, joint_of = movers(cell, table, stretch)
    scan = Scan(cell, table, stretch, {}, 0, Tally(), arm_of, joint_of)
    groups, cuts = rigid_groups(cell, table, stretch), stretch.cuts
    out = np.full(len(table.first), FAR)
    spans, pairs = np.column_stack([cuts[:-1], cuts[1:]]), np.arange(len(out))
    while len(spans):
        chunks = [spans[i : i + CHUNK] for i in range(0, len(spans), CHUNK)]
        seen = [look(cell, table, stretch, c.mean(axis=1), (c[:, 1] - c[:, 0]) / 2) for c in chunks]
        pairs = may_meet(table, seen, pairs, FAR)
        cut = [
            c[_again(scan, nodes, groups, pairs, spare, out)] for c, nodes in zip(chunks, seen, strict=True)
        ]
        low, high = np.concatenate(cut).T
        middle = (low + high) / 2
        spans = np.column_stack([np.concatenate([low, middle]), np.concatenate([middle, high])])
    return out


def _again(scan: Scan, nodes: Nodes, groups: Index, pairs: Index, spare: Array, out: Array) -> list[int]:
    """Intervals to be cut again; `out` is brought down to what the others have shown."""
    count = len(nodes.body)
    rows, every = np.repeat(np.arange(count), len(pairs)), np.tile(pairs, count)
    bound = relative_travel(scan, nodes, groups, rows, every)
    least = lower_bounds(scan.table, nodes, rows, every) - bound
    again = set()
    asked = np.flatnonzero(least < out[every])
    for k in asked[np.argsort(least[asked])]:
        row, pair, travel = int(rows[k]), int(every[k]), float(bound[k])
        if least[k] >= out[pair] or out[pair] <= 0.0:
            continue
        found = gap_up_to(float(out[pair]) + travel, *placed(scan, nodes, row, pair)) - ROUNDING
        if found - travel >= out[pair] - ROUNDING:
            continue
        if found <= spare[pair] + NEAR:
            out[pair] = 0.0
        elif travel > max(ENOUGH * found, NEAR):
            again.add(row)
        else:
            out[pair] = max(found - travel, 0.0)
    return sorted(again)
