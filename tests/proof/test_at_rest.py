"""Items put down on a flat place: which lie still, by statics done by hand."""

from __future__ import annotations

import numpy as np
import pytest

from handfast.proof.at_rest import why_not_at_rest
from handfast.proof.bodies import Body
from handfast.proof.piece import primitive
from handfast.spatial import se3
from handfast.spatial.se3 import Array

MIDDLE = np.zeros(3)
X = np.array([1.0, 0.0, 0.0])


def body(*pieces: tuple[tuple[float, ...], Array]) -> Body:
    return Body("item", "item", tuple(primitive(size, T) for size, T in pieces))


PIN = body(((0.0025, 0.016), np.eye(4)))
BLOCK = body(((0.04, 0.02, 0.01), np.eye(4)))
# A hook: a tall slab with an arm that reaches far out at its top.
HOOK = body(((0.01, 0.01, 0.04), np.eye(4)), ((0.06, 0.01, 0.01), se3.translation(0.025, 0, 0.015)))


def test_a_pin_stands_on_either_end_and_a_block_lies_on_any_side() -> None:
    assert why_not_at_rest(PIN, MIDDLE, se3.translation(0, 0, 0.008)) == ""
    assert why_not_at_rest(PIN, MIDDLE, se3.translation(0, 0, 0.008) @ se3.rotation(X, np.pi)) == ""
    for axis, turn, height in (
        (X, 0.0, 0.005),
        (X, np.pi / 2, 0.01),
        (np.array([0, 1.0, 0]), np.pi / 2, 0.02),
    ):
        assert why_not_at_rest(BLOCK, MIDDLE, se3.translation(0, 0, height) @ se3.rotation(axis, turn)) == ""


def test_a_pin_on_its_flank_rolls() -> None:
    lying = se3.translation(0, 0, 0.0025) @ se3.rotation(X, np.pi / 2)
    assert "rolls" in why_not_at_rest(PIN, MIDDLE, lying)


@pytest.mark.parametrize(("off", "word"), [(0.2e-3, "0.20 mm above"), (-8e-3, "8.00 mm below")])
def test_what_hangs_in_the_air_or_is_sunk_in(off: float, word: str) -> None:
    assert word in why_not_at_rest(PIN, MIDDLE, se3.translation(0, 0, 0.008 + off))


def test_a_block_on_its_edge_tips_over() -> None:
    tilted = se3.rotation(X, np.deg2rad(3))
    lowest = 0.01 * np.sin(np.deg2rad(3)) + 0.005 * np.cos(np.deg2rad(3))
    assert "tips over" in why_not_at_rest(BLOCK, MIDDLE, se3.translation(0, 0, lowest) @ tilted)


def test_a_hook_tips_over_its_foot_by_its_arm() -> None:
    """Its centre of mass: (4 cm3 at 0, 6 cm3 at 25 mm) -> 15 mm out, over a foot that ends at 5 mm."""
    centre = np.array([0.6 * 0.025, 0.0, 0.6 * 0.015])
    stands = se3.translation(0, 0, 0.02)
    assert "-10.00 mm inside" in why_not_at_rest(HOOK, centre, stands)
    assert why_not_at_rest(HOOK, MIDDLE, stands) == ""
