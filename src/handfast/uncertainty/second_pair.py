"""The turn of a part that a second pair sets: a pin in a slot, a second bore on a second shaft.

The first pair leaves the turn about its own axis; another hole or slot with a shaft, L away from that axis,
lets it turn by no more than its clearance over L. So once the part is home, its turn is the one at which the
second pair lies somewhere in its play, evenly, across the line between the two; how it came in is forgotten.
"""

from __future__ import annotations

import numpy as np

from handfast.model.mate import FeaturePair, Mate
from handfast.model.product import Product
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.uncertainty.chain_state import Item, State
from handfast.uncertainty.error_form import added, mapped
from handfast.uncertainty.home import fixed_frame
from handfast.uncertainty.jaws import Given
from handfast.uncertainty.pair_form import pair_form
from handfast.uncertainty.turn_play import LEVER, second_of, turn_edge

# A slot says something of the turn where it lies this square to the line between the two axes.
_SQUARE = 0.5


def turn_set(given: Given, state: State, mate: Mate, element: str) -> State:
    """The state with the turn of a part that has just come home as its second pair sets it."""
    product = given.project.product
    pair = second_of(product, mate)
    if pair is None:
        return state
    first = mate.pairs[0]
    T_world_first = fixed_frame(state, product, first.fixed_part, first.fixed, element)
    T_first_second = se3.inverse(T_world_first) @ fixed_frame(
        state, product, pair.fixed_part, pair.fixed, element
    )
    across, lever = _across(product, mate, pair, T_first_second, state, element)
    if abs(lever) < LEVER:
        return state
    item = state.items[mate.part]
    off = pair_form(given, state, (mate.part, pair.moving), (pair.fixed_part, pair.fixed), element)
    about = se3.adjoint(se3.inverse(state.nominal(mate.part, element)) @ T_world_first)[:, 5:6] / lever
    play = np.zeros((1, 6))
    play[0, 0] = 1.0
    form = added(item.form, mapped(-about @ across, off))
    form = added(form, mapped(about @ play, given.sources.form(turn_edge(mate.name), "", mate.name)))
    return state.placed(mate.part, Item(item.nominal, form))


def _across(
    product: Product, mate: Mate, pair: FeaturePair, T_first_second: Array, state: State, element: str
) -> tuple[Array, float]:
    """Row (1, 6) that takes the second pair's deviation to what its play limits; lever [m]: how far that
    moves per turn about the first axis."""
    x, y = (float(v) for v in T_first_second[:2, 3])
    moves = T_first_second[:3, :3].T @ np.array([-y, x, 0.0])
    direction = moves[:2] / max(float(np.linalg.norm(moves[:2])), 1e-12)
    slot = _slot(product, mate, pair, state, element)
    if slot is not None:
        square = float(slot @ direction)
        direction = slot if abs(square) > _SQUARE else np.zeros(2)
    row = np.zeros((1, 6))
    row[0, :2] = direction
    return row, float(direction @ moves[:2])


def _slot(product: Product, mate: Mate, pair: FeaturePair, state: State, element: str) -> Array | None:
    """Across the slot of a pair, unit (2,) in the fixed feature's frame; None for a round hole."""
    moving = product.part(mate.part).feature(pair.moving)
    fixed = product.part(pair.fixed_part).feature(pair.fixed)
    if fixed.kind == "slot":
        return np.array([0.0, 1.0])
    if moving.kind != "slot":
        return None
    T = se3.inverse(fixed_frame(state, product, pair.fixed_part, pair.fixed, element)) @ fixed_frame(
        state, product, mate.part, pair.moving, element
    )
    return np.asarray(T[:2, 1] / np.linalg.norm(T[:2, 1]))
