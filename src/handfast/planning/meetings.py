"""Where two arms, with what they hold, would come too close, in the plane of the two hands' own times."""

from __future__ import annotations

import numpy as np

from handfast import _kernel
from handfast.model.element import Element
from handfast.motion.timing import at
from handfast.motion.two_hands import Cells
from handfast.planning.state import State
from handfast.planning.workspace import Workspace
from handfast.spatial.se3 import Array

STEP = 0.02  # of the time grid [s]
_COARSE = 8  # steps of a first look at whether arms can meet


def meetings(
    ws: Workspace,
    elements: tuple[Element, ...],
    states: tuple[State, ...],
    own: list[list[int]],
    hands: list[str],
    lengths: list[list[int]],
    open_: Cells,
) -> Cells:
    """Cells in which the arms, with what they hold, would come closer than the free-space clearance, except
    where the sequence brings them together on purpose (a handover, a tool at a held part). Looked at only
    where two elements have a cell that is `open_` to other rules."""
    sides = [_side(ws, elements, states, own[k], hands[k], lengths[k]) for k in (0, 1)]
    met = np.zeros_like(open_)
    rows = np.concatenate([[0], np.cumsum(lengths[0])])
    columns = np.concatenate([[0], np.cumsum(lengths[1])])
    for i, (cover_a, q_a, way_a) in enumerate(sides[0]):
        for j, (cover_b, q_b, way_b) in enumerate(sides[1]):
            block = np.s_[rows[i] : rows[i + 1] + 1, columns[j] : columns[j + 1] + 1]
            if open_[block].any():
                cells = _block(cover_a, q_a, way_a, cover_b, q_b, way_b, ws.margin)
                if cells is not None:
                    met[block] |= cells
    return met


Side = tuple[_kernel.Cover, Array, Array]


def _side(
    ws: Workspace,
    elements: tuple[Element, ...],
    states: tuple[State, ...],
    mine: list[int],
    hand: str,
    lengths: list[int],
) -> list[Side]:
    """For each element: the hand's spheres, its joint values at each step, and how far a sphere may be off
    between steps [m]."""
    out = []
    for k, steps in zip(mine, lengths, strict=True):
        q = _samples(elements[k], states[k], hand, steps)
        cover = ws.hand_cover(states[k], hand)
        way = np.concatenate([_kernel.travel(cover, q[:-1], q[1:]), [0.0]])
        out.append((cover, q, np.maximum(way, np.concatenate([[0.0], way[:-1]]))))
    return out


def _samples(e: Element, state: State, hand: str, steps: int) -> Array:
    """Joint values at each step of an element, both ends included, (steps + 1, n)."""
    q = np.tile(state.q[hand], (steps + 1, 1))
    clock: Array = np.arange(steps + 1, dtype=np.float64) * STEP - e.before_s
    for motion in e.motions:
        moving = clock >= 0
        q[moving] = at(motion, clock[moving])
        clock = clock - motion.duration
    return q


def _block(cover_a: _kernel.Cover, q_a: Array, way_a: Array, cover_b: _kernel.Cover, q_b: Array, way_b: Array,
           margin: float) -> Cells | None:  # fmt: skip
    """Which cells of two elements are too close; None if surely none. A coarse look first."""
    reach_a, reach_b = _reach(way_a), _reach(way_b)
    coarse = _kernel.between(
        cover_a, q_a[::_COARSE], cover_b, q_b[::_COARSE], far=margin + 2 * (reach_a + reach_b)
    )
    if (coarse > margin + reach_a + reach_b).all():
        return None
    need = margin + (way_a[:, None] + way_b[None, :]) / 2
    return np.asarray(_kernel.between(cover_a, q_a, cover_b, q_b, far=float(need.max()) + 0.01) < need)


def _reach(way: Array) -> float:
    """How far a sphere may move within one coarse step [m]."""
    sums = np.concatenate([[0.0], np.cumsum(way)])
    return float((sums[_COARSE:] - sums[:-_COARSE]).max()) if len(sums) > _COARSE else float(sums[-1])
