"""One motion that is moved by what was measured, other than the chart has it: what it would run into.

The chart's own proof says nothing of such a motion. What an arm moves is certified against all that stands
still, by the same cutting as a whole chart, but only as far as yes or no.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from handfast.model.element import Element
from handfast.model.motion import Motion
from handfast.model.project import Project
from handfast.proof.allowances import Allowance, by_pair, gripped, lasting, touching
from handfast.proof.bodies import CellBodies, load_bodies
from handfast.proof.certify import certify
from handfast.proof.joint_path import joint_path
from handfast.proof.pieces_table import PieceTable, piece_table
from handfast.proof.standing import Carrier, Standing, carrier_of
from handfast.proof.stretch import Stretch
from handfast.proof.tally import Meeting, Tally

Names = Collection[str]


@dataclass(frozen=True)
class Surroundings:
    """All that can be met in a cell; read once, however many motions are asked about."""

    project: Project
    cell: CellBodies
    table: PieceTable
    always: tuple[Allowance, ...]


def surroundings(project: Project) -> Surroundings:
    """Raises ArmError, MeshError or OSError where the project's URDF or mesh files cannot be used."""
    cell = load_bodies(project)
    return Surroundings(project, cell, piece_table(cell), tuple(lasting(project)))


def would_meet(
    around: Surroundings,
    standing: Standing,
    element: Element,
    motion: Motion,
    *,
    beside_hand: Names = (),
    beside_held: Names = (),
    meanwhile: Sequence[tuple[float, Motion]] = (),
    opens: tuple[float, float] | None = None,
) -> Meeting | None:
    """The first thing found that the motion would run into, None if it is clear all the way.

    meanwhile: motions of other arms, in order of time, with when they begin after this one does [s]; opens:
    the width [m] that the arm's own jaws go to from where they stand, and how long that takes [s].

    standing: how everything is thought to stand as the motion begins. beside_hand, beside_held: items and
    holders that are not asked about, with the arm and hand, and with what the hand holds.
    """
    standing = standing.at(motion.arm, np.array(motion.q[0]))
    carriers = {item: carrier_of(around.project, around.cell, standing, item) for item in standing.parents}
    nowhere = {b.name for b in around.cell.bodies if b.kind == "item" and b.name not in carriers}
    carriers |= {item: Carrier("", np.eye(4)) for item in nowhere}
    left_out = {*beside_hand, *nowhere}, {*beside_held, *nowhere}
    table = _asked(around, carriers, motion.arm, *left_out)
    allowed = [*around.always, *touching(around.project.product, element)]
    for arm, hold in standing.holds.items():
        allowed += gripped(arm, hold.item)
    if element.kind == "grasp":
        allowed += gripped(element.hand, element.object)
    tally, pairs, wide = _YesOrNo(), by_pair(allowed), standing.widths[motion.arm]
    cuts = sorted(
        {t for begins, m in meanwhile for t in (begins, begins + m.duration)} | {opens[1] if opens else 0.0}
    )
    ends = [0.0, *(t for t in cuts if 0.0 < t < motion.duration), motion.duration]
    for start, end in pairwise(ends):
        paths = {motion.arm: (0.0, joint_path(motion))}
        for begins, other in meanwhile:
            if begins >= end:
                continue
            if begins + other.duration > start:
                paths[other.arm] = (begins, joint_path(other))
            standing = standing.at(other.arm, np.array(other.q[-1 if other.arm not in paths else 0]))
        jaws = {arm: (width, width) for arm, width in standing.widths.items()}
        if opens is not None:
            gone = [min(t / opens[1], 1.0) for t in (start, end)]
            jaws[motion.arm] = (wide + (opens[0] - wide) * gone[0], wide + (opens[0] - wide) * gone[1])
        stretch = Stretch(start, end, paths, standing.q, jaws, carriers, {motion.arm: element.number})
        certify(around.cell, table, stretch, pairs, element.number, tally)
    return min(tally.meetings.values(), key=lambda meeting: meeting.time, default=None)


class _YesOrNo(Tally):
    """Wants to know of meetings only, not how near anything comes else."""

    def floor(self) -> float:
        return 0.0

    def near(self, gap: float, a: str, b: str, element: int) -> None:
        pass


def _asked(
    around: Surroundings,
    carriers: dict[str, Carrier],
    arm: str,
    beside_hand: Names,
    beside_held: Names,
) -> PieceTable:
    """The table with those pairs alone of which one moves with the arm, and the other does not."""
    bodies, table = around.cell.bodies, around.table

    def of(chosen: list[bool]) -> NDArray[np.bool_]:
        return np.array(chosen)[table.body]

    hand = of([body.arm == arm and body.joint > 0 for body in bodies])
    held = of([body.kind == "item" and carriers[body.name].arm == arm for body in bodies])
    left_out_hand = of([body.name in beside_hand for body in bodies])
    left_out_held = of([body.name in beside_held for body in bodies])
    a, b = table.first, table.second
    asked = (hand | held)[a] != (hand | held)[b]
    for moving, left_out in ((hand, left_out_hand), (held, left_out_held)):
        asked &= ~((moving[a] & left_out[b]) | (left_out[a] & moving[b]))
    return replace(table, first=a[asked], second=b[asked])
