"""Pairs that may not touch, over the intervals of a stretch: as few distances as settle all of them."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from handfast.proof.coherence import Gaps, Relative, relative
from handfast.proof.exact import ROUNDING, gap_up_to
from handfast.proof.pieces_table import Index
from handfast.proof.scan import Scan, gap_between, placed
from handfast.proof.stl import Array
from handfast.proof.straight import passed_by
from handfast.proof.stretch import Nodes
from handfast.proof.tally import Meeting
from handfast.proof.tolerances import RESOLUTION

Again = tuple[int, int, int]
"""An interval, a pair, and in how many parts the interval is to be cut for it."""
CLOSE = 2e-3
"""A pair that may touch is held against its corridor in intervals in which it moves less than this [m];
before that it is only asked whether it is far apart."""
MEASURED = 6e-3
"""Pairs are measured in intervals in which they move less than this [m]: before that, cutting is cheaper."""
FURTHER = 20e-3
"""A gap is measured up to this much more than is asked for [m], for what it says of other intervals."""
MOST = 8
"""Parts that an interval is cut into in one go."""
MANY, AGAIN = 4, 0.95
"""Intervals of a pair from which it is asked whether it passes by on a straight line; it is asked again where
the clearance to be shown has come down to this share."""


def open_pairs(
    scan: Scan, nodes: Nodes, span: tuple[Array, Array], rows: Index, pairs: Index, bound: Array
) -> list[Again]:
    """The (interval, pair) that need cutting again, of pairs that may not touch; what is found is tallied.
    Those that may touch somewhere are only shown far apart here, or cut.

    span: start and end of the intervals, as shares of the stretch; rows, pairs: one of each a case, by pairs
    and from the start of each to its end; bound: how far the pair moves at most from the middle [m].
    """
    if not len(pairs):
        return []
    known, places = scan.tally.gaps_of(scan.table), relative(scan.table, nodes, rows, pairs)
    least = np.maximum(known.least(pairs, places), places.boxes_apart())
    begins = np.flatnonzero(np.diff(pairs, prepend=-1))
    again: list[Again] = []
    for begin, end in zip(begins, [*begins[1:], len(pairs)], strict=True):
        own = slice(int(begin), int(end))
        run = Run(int(pairs[begin]), rows[own], bound[own], places.part(own), least[own])
        again += _settle(scan, nodes, span, run, known)
    return again


@dataclass(frozen=True)
class Run:
    """One pair in m intervals. rows (m,): which; bound (m,): how far it moves at most from the middle of each
    [m]; at (m): where it is there; least (m,): how far apart it is known to be there [m]."""

    pair: int
    rows: Index
    bound: Array
    at: Relative
    least: Array


def _settle(scan: Scan, nodes: Nodes, span: tuple[Array, Array], run: Run, known: Gaps) -> list[Again]:
    pair, bound, at, least = run.pair, run.bound, run.at, run.least
    tally, touching = scan.tally, scan.touching(pair)
    most = np.full(len(bound), np.inf)
    only_far = (bound > CLOSE) & (touching is not None)
    again: list[Again] = []
    left, asked_for = np.arange(len(bound)), math.inf
    while True:
        spare = np.where(only_far, max(tally.floor(), touching or 0.0), tally.floor()) + ROUNDING
        needed = bound + spare
        left = left[least[left] <= needed[left]]
        hopeless = (most < needed) & (bound > RESOLUTION / 2)
        cut = hopeless[left] | (bound[left] > MEASURED)
        for k in left[cut]:
            wanted = CLOSE if only_far[k] else min(most[k] - spare[k], MEASURED)
            again.append((int(run.rows[k]), pair, _parts(float(bound[k]), float(wanted))))
        left = left[~cut]
        if not len(left):
            return again
        # Where all of the way was not clear, it is as a rule nearest at one of its ends.
        k = left[len(left) // 2 if asked_for == math.inf else -(len(left) % 2)]
        left = left[left != k]
        row = int(run.rows[k])
        steps = at.steps(at.centre[k], at.axes[k])
        enough = float(needed[k]) + ROUNDING + min(float(steps[left].max(initial=0.0)), FURTHER)
        gap = gap_up_to(enough, *placed(scan, nodes, row, pair))
        known.add(pair, at.centre[k], at.axes[k], gap)
        np.maximum(least, gap - steps, out=least)
        if gap >= enough:
            continue
        np.minimum(most, gap + steps, out=most)
        if len(left) >= MANY and tally.floor() < AGAIN * asked_for:
            asked_for, asked = tally.floor(), left[least[left] <= needed[left]]
            shown = passed_by(scan, nodes, pair, run.rows[asked], row, gap, spare[asked])
            least[asked[shown]] = np.inf
        if gap > bound[k] and not only_far[k]:
            tally.near(gap, *scan.names(pair), scan.element_of(pair))
            if gap > bound[k] + tally.floor():
                continue
        if only_far[k] or (gap > 0 and bound[k] > RESOLUTION / 2):
            wanted = CLOSE if only_far[k] else gap - spare[k]
            again.append((row, pair, _parts(float(bound[k]), float(wanted))))
        else:
            _meets(scan, nodes, span, row, pair)


def _parts(bound: float, left: float) -> int:
    """Into how many parts to cut what moves by so much either way [m], to leave so much [m]: a power of
    two."""
    wanted = bound / max(0.8 * left, RESOLUTION / 2)
    return int(min(2 ** max(math.ceil(math.log2(wanted)), 1), MOST)) if wanted > 1 else 2


def _meets(scan: Scan, nodes: Nodes, span: tuple[Array, Array], row: int, pair: int) -> None:
    """Write down a pair that is not shown apart."""
    middle = (float(span[0][row]) + float(span[1][row])) / 2
    time = scan.stretch.start + middle * scan.stretch.duration
    gap = gap_between(scan, nodes, row, pair)
    scan.tally.met(Meeting(*scan.names(pair), scan.element_of(pair), time, gap))
