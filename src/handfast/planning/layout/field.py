"""How much of the work area each arm reaches."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast import _kernel
from handfast.kinematics.inverse import inverse
from handfast.model.project import Project
from handfast.planning.layout.elsewhere import elsewhere
from handfast.planning.layout.ground import Ground, poses_of
from handfast.planning.layout.measure import Bench
from handfast.spatial import se3
from handfast.spatial.se3 import Array

PITCH = 0.03  # of the map [m]
HEIGHT = 0.1  # of the jaws' grip point above what arms stand on [m]
_ROLLS = 8


@dataclass(frozen=True, eq=False, slots=True)
class Field:
    """Of one arm. x (k,), y (m,): middles of the squares [m]; share (m, k): of hands that point straight down
    there, in eight turns, those whose arm reaches with its links clear of all that stands."""

    hand: str
    x: Array
    y: Array
    share: Array


@dataclass(frozen=True, eq=False, slots=True)
class Map:
    """A layout seen from above, in the world frame [m]: fields by arm; outlines (4, 2) of holders and feet of
    arms by name; table: of what stands still."""

    fields: tuple[Field, ...]
    outlines: dict[str, Array]
    table: tuple[Array, ...]


def layout_map(bench: Bench, layout: Project) -> Map:
    """The map of a layout."""
    ws = elsewhere(bench.ws, layout)
    ground, at = Ground(ws), poses_of(layout)
    found = {name: ground.outline(name, T) for name, T in at.items()}
    outlines = {name: line for name, line in found.items() if line is not None}
    corners = np.concatenate([*outlines.values(), *ground.table()])
    low, high = corners.min(axis=0), corners.max(axis=0)
    x, y = (np.arange(low[i] + PITCH / 2, high[i], PITCH) for i in (0, 1))
    state = ws.start().without(set(ws.items))
    fields = []
    for name, hand in ws.hands.items():
        foot = at[name][2, 3]
        down = np.array(
            [se3.rotation(np.array([0.0, 0.0, 1.0]), 2 * np.pi * k / _ROLLS) for k in range(_ROLLS)]
        ) @ se3.fixed_xyz(np.pi, 0.0, 0.0)
        T = np.broadcast_to(down, (len(y), len(x), _ROLLS, 4, 4)).copy()
        T[..., 0, 3], T[..., 1, 3], T[..., 2, 3] = x[None, :, None], y[:, None, None], foot + HEIGHT
        q, valid = inverse(hand.chain, hand.tip_for(T.reshape(-1, 4, 4)), hand.chain.home)
        free = np.zeros(valid.shape, dtype=bool)
        if valid.any():
            free[valid] = _kernel.free(hand.links_cover, ws.world(state, name), q[valid])
        share = free.any(axis=1).reshape(len(y), len(x), _ROLLS).mean(axis=2)
        fields.append(Field(name, x, y, share))
    return Map(tuple(fields), outlines, tuple(ground.table()))
