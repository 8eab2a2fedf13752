"""Whether the drawn parts can go together at all: the share of lots in which every pair of a mate finds its
place at once, with the part put as well as it can be.

The features of the parts are drawn off their places, and the sizes within their tolerances; the part may be
shifted across the axis of the first pair and turned about it. Each hole asks that its shaft lies within half
the clearance, a slot asks so across it and that the shaft lies between its ends; a part that stands in its
own fit with play may give way by that play as well. Tilts are left out. The best place is found by going
to one pair's region after the other (cyclic projections; Gurin, Polyak and Raik 1967, from memory), which
ends inside if there is an inside: a lot that only just fits may be counted out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handfast import _kernel
from handfast.model.product import Product
from handfast.spatial.se3 import Array
from handfast.uncertainty.draws_matrix import DrawsMatrix, draws_matrix, unit_block
from handfast.uncertainty.entry import Entry, PairEntry
from handfast.uncertainty.error_form import mapped, only
from handfast.uncertainty.fit_of_pair import fit_of_pair, hole_and_shaft
from handfast.uncertainty.insertion_condition import CLEARANCE_WEIGHTS, clearances, fits_together, hole_first
from handfast.uncertainty.sources import Sources

_LOTS, _SEED = 4096, 7
_SWEEPS, _INSIDE = 120, 0.999
# Further than to the edge of a region: less than twice as far still ends inside, sooner.
_STEP = 1.8
Flags = NDArray[np.bool_]


@dataclass(frozen=True, eq=False, slots=True)
class Together:
    """What it takes for all pairs to fit at once: for each region j, |off_j + A_j v| <= room_j for one v.

    draws: off (2 k rows), from the features alone; A (k, 2, 3): shift across (x, y) and turn of the part;
    rooms (k, s): by size [m]; of (k,): the pair whose size it is; pairs: how many.
    """

    draws: DrawsMatrix
    A: Array
    rooms: Array
    of: NDArray[np.intp]
    pairs: int


def together(product: Product, entry: Entry, sources: Sources) -> Together | None:
    """The regions of a mate's pairs; None where fewer than two pairs fit together."""
    fitting = [pair for pair in entry.pairs if fits_together(pair)]
    if len(fitting) < 2:
        return None
    forms, A, rooms, of = [], [], [], []
    for index, pair in enumerate(fitting):
        drawn = only(pair.delta, lambda k: sources.by_name[k.source].acts_on.startswith("feature."))
        for rows, room in _regions(product, pair):
            forms.append(mapped(rows, drawn))
            A.append((rows @ pair.shift)[:, [0, 1, 5]])
            rooms.append(room)
            of.append(index)
    return Together(
        draws_matrix(forms, sources), np.array(A), np.array(rooms), np.array(of, dtype=np.intp), len(fitting)
    )


def share_of_lots(asked: Together, sources: Sources) -> float:
    """In how many lots the parts can go together, 0..1; always the same draws."""
    rng = np.random.default_rng(_SEED)
    unit = unit_block([sources.by_name[k.source] for k, _ in asked.draws.columns], rng, _LOTS)
    off = unit.T.astype(np.float64) @ asked.draws.matrix.T
    return float(can_go(asked, off, size_nodes(asked, rng, _LOTS)).mean())


def size_nodes(asked: Together, rng: np.random.Generator, count: int) -> NDArray[np.intp]:
    """A size for each pair (count, pairs), as an index."""
    return rng.choice(len(CLEARANCE_WEIGHTS), size=(count, asked.pairs), p=CLEARANCE_WEIGHTS)


def can_go(asked: Together, off: Array, nodes: NDArray[np.intp]) -> Flags:
    """Which of the lots (n,) go together. off (n, 2 k) [m]; nodes (n, pairs): sizes."""
    rooms = np.stack([asked.rooms[j, nodes[:, i]] for j, i in enumerate(asked.of)], axis=1)
    lever = np.maximum(np.abs(asked.A[:, :, 2]).max(), 1e-9)
    A = asked.A / np.array([1.0, 1.0, lever])
    return _kernel.together(
        A, np.linalg.pinv(A), off, rooms, sweeps=_SWEEPS, inside=_INSIDE, step=_STEP
    )  # fmt: skip


def _regions(product: Product, pair: PairEntry) -> list[tuple[Array, Array]]:
    """Rows (2, 6) and rooms (s,) [m] of a pair: one region for a hole, two slabs for a slot."""
    hole, shaft = hole_first(pair)
    give = _own_play(product, pair.of)
    room = np.array([clearance / 2 + give for clearance in clearances(hole, shaft)])
    flat = np.zeros((2, 6))
    flat[0, 0] = flat[1, 1] = 1.0
    if hole.kind != "slot" or hole.size is None:
        return [(flat, room)]
    axes = np.eye(3) if hole is pair.fixed else pair.T_fixed_moving[:3, :3]
    along, across = np.zeros((2, 6)), np.zeros((2, 6))
    along[0], across[0] = axes[:2, 0] @ flat, axes[:2, 1] @ flat
    ends = (hole.size[0] - (shaft.diameter or 0.0)) / 2 + give
    return [(across, room), (along, np.full(len(room), ends))]


def _own_play(product: Product, part: str) -> float:
    """How far a part may give way in the fit it stands in [m]: half its middle clearance."""
    for mate in product.mates:
        if mate.part == part:
            found = hole_and_shaft(product, mate, mate.pairs[0])
            if found is not None:
                fit = fit_of_pair(*found)
                return max(0.25 * (fit.clearance_min + fit.clearance_max), 0.0)
    return 0.0
