"""A stretch being certified, and what can be asked of a pair at one instant of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handfast.proof.allowances import Allowance, Allowed
from handfast.proof.bodies import CellBodies
from handfast.proof.exact import ROUNDING, distance, gap_up_to, nearer
from handfast.proof.judged import number_of
from handfast.proof.pieces_table import Index, PieceTable
from handfast.proof.stl import Array
from handfast.proof.stretch import Nodes, Stretch
from handfast.proof.tally import Tally


@dataclass(frozen=True)
class Measured:
    """A gap of a pair [m] in the middle of an interval, by how much it may change from there to the end of it
    [m], and where that is, as a share of the stretch."""

    gap: float
    bound: float
    end: float


@dataclass(frozen=True)
class Scan:
    """One stretch being certified. measured: the last gap of a pair drawn in, by the pair and the number of
    the allowance among its own; swept: the last of what it passes over in a slide, by its length too."""

    cell: CellBodies
    table: PieceTable
    stretch: Stretch
    allowed: Allowed
    element: int
    tally: Tally
    arm_of: tuple[str, ...]
    joint_of: Index
    measured: dict[tuple[int, int], Measured] = field(default_factory=dict)
    swept: dict[tuple[int, int, int], Any] = field(default_factory=dict)

    def gap_left(self, key: tuple[int, int], begin: float, bound: float) -> float:
        """What is left in the middle of an interval of the gap measured in the one that ends where it begins
        [m]; less than nothing if there is none. bound: how far the pair moves at most from there [m]."""
        last = self.measured.get(key)
        return last.gap - last.bound - bound if last is not None and last.end == begin else -np.inf

    def names(self, pair: int) -> tuple[str, str]:
        """The bodies of a pair."""
        table = self.table
        return (
            self.cell.bodies[table.body[table.first[pair]]].name,
            self.cell.bodies[table.body[table.second[pair]]].name,
        )

    @cached_property
    def arm_numbers(self) -> Index:
        """A number for the arm that each piece moves with (P,)."""
        numbers = {arm: i for i, arm in enumerate(("", *self.cell.arms))}
        return np.array([numbers[arm] for arm in self.arm_of], dtype=np.int64)

    @cached_property
    def allowed_as(self) -> Index:
        """A number for what is allowed of each pair (K,), as `number_of` has it."""
        return allowed_as(self.cell, self.table, self.allowed)

    @cached_property
    def may_touch(self) -> NDArray[np.bool_]:
        """Which of the pairs may touch somewhere (K,)."""
        return np.asarray(self.allowed_as != 0)

    def touching(self, pair: int) -> float | None:
        """The largest gap [m] at which a pair that may touch counts as in contact; None if it may not."""
        return max((allowance.touching for allowance in self.allowances(pair)), default=None)

    def allowances(self, pair: int) -> tuple[Allowance, ...]:
        """What allows a pair to touch; nothing for most."""
        return self.allowed.get(frozenset(self.names(pair)), ()) if self.may_touch[pair] else ()

    def element_of(self, pair: int) -> int:
        """The element that moves a pair."""
        for piece in (self.table.first[pair], self.table.second[pair]):
            number = self.stretch.elements.get(self.arm_of[piece])
            if number is not None:
                return number
        return self.element


def allowed_as(cell: CellBodies, table: PieceTable, allowed: Allowed) -> Index:
    """A number for what is allowed of each pair of a table, by its bodies (K,); 0 for pairs that may not
    touch."""
    of = [(cell.index[a], cell.index[b], number_of(allowances)) for (a, b), allowances in allowed.items()]
    first, second, number = np.array(of, dtype=np.int64).reshape(-1, 3).T
    bodies = np.zeros((len(cell.bodies),) * 2, dtype=np.int64)
    bodies[first, second] = bodies[second, first] = number
    return np.asarray(bodies[table.body[table.first], table.body[table.second]])


def relieved(
    scan: Scan, nodes: Nodes, row: int, pair: int, allowance: Allowance, bound: float, turn: float
) -> float | None:
    """None out of the corridor; else the gap of the pair drawn in and set back [m], as far as it matters."""
    step = allowance.corridor.relief(poses_in(scan, nodes, row), bound, turn)
    return None if step is None else gap_set_back(scan, nodes, row, pair, allowance, bound, step)


def gap_set_back(
    scan: Scan, nodes: Nodes, row: int, pair: int, allowance: Allowance, bound: float, step: Array
) -> float:
    """Gap of a pair drawn in and set back by a step (3,) [m], as far as it matters."""
    enough = allowance.touching + bound + 2 * ROUNDING
    return gap_up_to(enough, *_drawn(scan, nodes, row, pair, allowance, step))


def in_contact(scan: Scan, nodes: Nodes, row: int, pair: int, allowance: Allowance) -> bool:
    """True if a pair, drawn in, counts as in contact in the middle of an interval."""
    return nearer(allowance.touching, *_drawn(scan, nodes, row, pair, allowance, np.zeros(3)))


def _drawn(
    scan: Scan, nodes: Nodes, row: int, pair: int, allowance: Allowance, step: Array
) -> tuple[object, Array, object, Array]:
    """Both shapes of a pair with their poses, the one drawn in and set back by a step (3,)."""
    table = scan.table
    first, second = int(table.first[pair]), int(table.second[pair])
    if scan.cell.bodies[table.body[first]].name != allowance.a:
        first, second = second, first
    pose_a, pose_b = (piece_pose(scan, nodes, row, piece) for piece in (first, second))
    pose_a = pose_a.copy()
    pose_a[:3, 3] += step
    return table.pieces[first].drawn(allowance.skin), pose_a, table.pieces[second].geometry, pose_b


def poses_in(scan: Scan, nodes: Nodes, row: int) -> Callable[[str], Array]:
    """T_world_body of a body by its name."""
    return lambda name: np.asarray(nodes.body[row, scan.cell.index[name]])


def piece_pose(scan: Scan, nodes: Nodes, row: int, piece: int) -> Array:
    """T_world_shape."""
    return np.asarray(nodes.body[row, scan.table.body[piece]] @ scan.table.pieces[piece].T_body_shape)


def placed(scan: Scan, nodes: Nodes, row: int, pair: int) -> tuple[object, Array, object, Array]:
    """Both shapes of a pair with their poses in the world."""
    first, second = int(scan.table.first[pair]), int(scan.table.second[pair])
    pieces = scan.table.pieces
    return (
        pieces[first].geometry,
        piece_pose(scan, nodes, row, first),
        pieces[second].geometry,
        piece_pose(scan, nodes, row, second),
    )


def gap_between(scan: Scan, nodes: Nodes, row: int, pair: int) -> float:
    """Distance of a pair [m]; zero or less where it overlaps."""
    return distance(*placed(scan, nodes, row, pair))
