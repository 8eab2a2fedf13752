"""Cells that cannot be planned, each with the reason that says so before anything is searched."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from tests.planning.generated.families import (
    TWO,
    held_plate,
    mate,
    pegs_one_arm,
    pegs_two_arms,
    tower,
    under_a_plate,
)
from tests.planning.generated.layout import NEST, Rng, cage
from tests.planning.generated.pieces import base, peg
from tests.planning.generated.recipe import Piece, Recipe, Wall

SPAN = 50 + 420 + 380 + 90 + 160
"""From axis 1 to the grip frame: links of first-fit's arm, then the hand [mm]. Stretched out, no point of the
grip frame is farther from the shoulder axis."""
FINGER = 12.0
"""Thickness of a finger [mm]."""


def out_of_reach(rng: Rng) -> Recipe:
    """A part so far from every base that the stretched arm ends short of all of it."""
    recipe = _plain(rng)
    piece = _any(rng, recipe)
    size = piece.solid.bounding_box()
    ball = float(np.linalg.norm([max(abs(size[i]), abs(size[i + 3])) for i in range(3)]))
    beyond = SPAN + ball + float(rng.uniform(5, 200))
    angle = float(rng.uniform(0.2, 0.8)) * np.pi
    x, y = (round(float(v), 1) for v in (beyond * np.cos(angle), beyond * np.sin(angle)))
    farthest = max(recipe.arms.values(), key=lambda b: b[0] * np.sign(x))
    stand = recipe.stand_of(piece.name)
    moved = replace(stand, x=round(x + farthest[0], 1), y=y)
    recipe.stands[recipe.stands.index(stand)] = moved
    for bx, by in recipe.arms.values():
        assert np.hypot(moved.x - bx, moved.y - by) > SPAN + ball
    return recipe


def too_wide(rng: Rng) -> Recipe:
    """A part wider than any jaw opens, across every pair of its faces."""
    recipe = _plain(rng)
    piece = _any(rng, recipe)
    wide = round(float(rng.uniform(71, 90)), 1)
    recipe.pieces[recipe.pieces.index(piece)] = peg(piece.name, (30, wide, 24), "top_hole" in piece.features)
    return recipe


def caged(rng: Rng) -> Recipe:
    """A block between walls as high as itself, nearer than a finger is thick: no pad comes beside it."""
    recipe = pegs_one_arm(rng) if rng.random() < 0.5 else pegs_two_arms(rng)
    piece = _any(rng, recipe)
    box = piece.solid.bounding_box()
    size = (box[3] - box[0], box[4] - box[1], box[5])
    stand = recipe.stand_of(piece.name)
    gap = round(float(rng.uniform(2, FINGER - 5)), 1)
    recipe.walls = cage(stand, size, gap, stand.size[2], 0.0)
    return recipe


def roofed_part(rng: Rng) -> Recipe:
    """A part in a closed box, a lid less than a hand above it."""
    recipe = _plain(rng)
    piece = _any(rng, recipe)
    box = piece.solid.bounding_box()
    stand = recipe.stand_of(piece.name)
    size = (box[3] - box[0], box[4] - box[1], stand.seat + box[5])
    recipe.walls = cage(
        stand, size, round(float(rng.uniform(20, 40)), 1), stand.size[2], float(rng.uniform(5, 40))
    )
    return recipe


def roofed_hole(rng: Rng) -> Recipe:
    """A roof over a hole of the base, lower than the peg that would have to come down onto it is long."""
    recipe = pegs_one_arm(rng) if rng.random() < 0.5 else pegs_two_arms(rng)
    piece = _any(rng, recipe)
    number = int(piece.name.rpartition("_")[2])
    at = recipe.piece("base").features[f"hole_{number}"]["at"]
    x, y = (float(v.split()[0]) for v in at[:2])
    stand = recipe.stand_of("base")
    # The block is 16 tall or more, the peg 18: its tip over the mouth, the top is 34 above it.
    low = NEST + 22 + float(rng.uniform(4, 30))
    recipe.walls = [Wall("roof", stand.x + x, stand.y + y, (44.0, 44.0, 12.0), round(low, 1))]
    return recipe


def needs_each_other(rng: Rng) -> Recipe:
    """Two mates, each of which must be done before the other."""
    recipe = tower(rng)
    recipe.mates["m_0"]["needs"] = ["m_1"]
    return recipe


def no_second_hand(rng: Rng) -> Recipe:
    """A plate that must be held while a pin goes in, and one arm."""
    recipe = held_plate(rng)
    recipe.arms = {"only": (0.0, 0.0)}
    return recipe


def hidden_first(rng: Rng) -> Recipe:
    """The order is given, and puts the plate over the hole before the peg that goes into it."""
    recipe = under_a_plate(rng)
    recipe.order = "given"
    return recipe


def crossed(rng: Rng) -> Recipe:
    """Two blocks whose holes are so near that either block, once in, fills the place of the other."""
    recipe = pegs_two_arms(rng)
    half = round(float(rng.uniform(5, 8)), 1)
    pieces = [base([(-half, 0), (half, 0)]), peg("part_0", (34, 30, 24)), peg("part_1", (34, 30, 24))]
    stands = [s for s in recipe.stands if s.holds == "base"]
    spots = [(-300.0, 450.0), (300.0, 450.0)]
    like = recipe.stand_of("part_0")
    for i, (x, y) in enumerate(spots):
        stands.append(replace(like, name=f"post_part_{i}", holds=f"part_{i}", x=x, y=y))
    mates = {f"m_{i}": mate("insert", f"part_{i}", "base", ("peg", f"base.hole_{i}", 18)) for i in range(2)}
    return Recipe("crossed", "", TWO, pieces, stands, mates, [])


def _plain(rng: Rng) -> Recipe:
    return [pegs_one_arm, pegs_two_arms, tower][int(rng.integers(3))](rng)


def _any(rng: Rng, recipe: Recipe) -> Piece:
    free = [p for p in recipe.pieces if p.name != "base"]
    return free[int(rng.integers(len(free)))]


CERTIFICATES: dict[str, Callable[[Rng], Recipe]] = {
    "out of reach": out_of_reach,
    "too wide": too_wide,
    "caged": caged,
    "roofed part": roofed_part,
    "roofed hole": roofed_hole,
    "needs each other": needs_each_other,
    "no second hand": no_second_hand,
    "hidden first": hidden_first,
    "crossed": crossed,
}
