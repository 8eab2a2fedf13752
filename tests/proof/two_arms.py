"""How far two arms, with what they carry, are from each other at an instant: by the bodies and exact
distances of the proof (pinocchio and coal), not by the planner's sphere covers."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from handfast.execution.rehearsal import Ready
from handfast.model.motion import Motion
from handfast.model.project import Project
from handfast.proof.bodies import CellBodies, load_bodies
from handfast.proof.exact import gap_up_to
from handfast.proof.pieces_table import PieceTable, piece_table
from handfast.proof.standing import Standing, carrier_of
from handfast.proof.stl import Array
from handfast.proof.stretch import Stretch, look, movers

FAR = 0.3  # nothing further apart than this is measured [m]


@dataclass(frozen=True)
class TwoArms:
    """Of one project."""

    project: Project

    @cached_property
    def cell(self) -> CellBodies:
        return load_bodies(self.project)

    @cached_property
    def table(self) -> PieceTable:
        return piece_table(self.cell)

    def apart(self, ready: Ready, q: Mapping[str, Array], shared: Collection[str] = ()) -> float:
        """The least distance [m], at most FAR, with items as they are when `ready` and the arms at q (n,).
        Two items are not counted, for one may go into the other, nor those `shared`, which both hands are at
        (a handover)."""
        parents = {a.item: (a.parent, a.pose.matrix) for a in ready.scene.attachments}
        standing = Standing(parents, dict(q), dict(ready.widths), {})
        carriers = {item: carrier_of(self.project, self.cell, standing, item) for item in parents}
        jaws = {hand: (width, width) for hand, width in ready.widths.items()}
        stretch = Stretch(0.0, 0.0, {}, standing.q, jaws, carriers, {})
        table = self.table
        arm_of, joint_of = movers(self.cell, table, stretch)
        moves = np.array([arm if joint > 0 else "" for arm, joint in zip(arm_of, joint_of, strict=True)])
        a, b = moves[table.first], moves[table.second]
        bodies = [self.cell.bodies[k] for k in table.body]
        item = np.array([body.kind == "item" for body in bodies])
        both = np.array([body.name in shared for body in bodies])
        counts = ~(item[table.first] & item[table.second]) & ~both[table.first] & ~both[table.second]
        nodes = look(self.cell, table, stretch, np.zeros(1), np.zeros(1))
        least = FAR
        for pair in np.flatnonzero(counts & (a != b) & (a != "") & (b != "")):
            one, two = int(table.first[pair]), int(table.second[pair])
            reach = float(np.linalg.norm(nodes.centre[0, one] - nodes.centre[0, two]))
            if reach - table.radius[one] - table.radius[two] >= least:
                continue
            poses = [nodes.body[0, table.body[p]] @ table.pieces[p].T_body_shape for p in (one, two)]
            shapes = [table.pieces[p].geometry for p in (one, two)]
            least = min(least, gap_up_to(least, shapes[0], poses[0], shapes[1], poses[1]))
        return least


def along(motion: Motion, time: float) -> Array:
    """Joint values (n,) at a time [s] from a motion's start: constant acceleration between knots, which is
    what a motion says (model/motion.py), worked out here anew."""
    t, q, v = (np.array(x) for x in (motion.t, motion.q, motion.v))
    s = min(max(time, t[0]), t[-1])
    i = min(int(np.searchsorted(t, s, side="right")) - 1, len(t) - 2)
    h, s = t[i + 1] - t[i], s - t[i]
    return np.asarray(q[i] + v[i] * s + (v[i + 1] - v[i]) / (h or 1.0) * s * s / 2)
