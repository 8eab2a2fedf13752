"""The edges of each corridor: in it up to its stated width, tilt and length, out of it beyond."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from tests.proof.chart_by_hand import first_fit

from handfast.model.touch import Touch
from handfast.proof.allowances import lasting
from handfast.proof.bit_corridor import BitCorridor
from handfast.proof.corridor import Corridor, PlaceCorridor
from handfast.proof.mate_corridor import MateCorridor
from handfast.proof.tolerances import (
    CORRIDOR,
    CORRIDOR_TILT,
    LEAD,
    PLACE_EXIT,
    PLACE_LATERAL,
    PLACE_TILT,
    POSITION,
    SKIN,
)
from handfast.proof.touch_corridor import TouchCorridor
from handfast.spatial import se3
from handfast.spatial.se3 import Array

X, Y, Z = np.eye(3)
HOME = {
    "block": se3.translation(0, 0.45, 0.015),
    "pin": se3.translation(-0.028, 0.45, 0.045),
    "cover": se3.translation(0, 0.45, 0.045),
    "screw": se3.translation(0.038, 0.45, 0.051),
}


def poses(**changed: Array) -> Callable[[str], Array]:
    return lambda name: {**HOME, **changed}[name]


def corridor(a: str, b: str, kind: type) -> Corridor:
    """The one corridor of that kind between two bodies of first-fit."""
    (found,) = (
        x.corridor for x in lasting(first_fit()) if {x.a, x.b} == {a, b} and isinstance(x.corridor, kind)
    )
    return found


def about(T: Array, axis: Array, angle: float) -> Array:
    return np.asarray(T @ se3.rotation(axis, angle))


MATES = [
    ("pin", "block", 20e-3),
    ("cover", "block", 20e-3),
    ("cover", "pin", 20e-3),
    ("screw", "cover", 12e-3),
]


@pytest.mark.parametrize(("part", "other", "length"), MATES)
def test_a_mate_is_a_narrow_line_from_above(part: str, other: str, length: float) -> None:
    line = corridor(part, other, MateCorridor)
    home = HOME[part]

    def inside(T: Array, reach: float = 0.0, turn: float = 0.0) -> bool:
        return line.relief(poses(**{part: T}), reach, turn) is not None

    assert inside(home)
    for up, expected in ((length, True), (length + LEAD - 1e-6, True), (length + LEAD + 1e-6, False),
                         (-POSITION + 1e-6, True), (-POSITION - 1e-6, False)):  # fmt: skip
        assert inside(se3.translation(0, 0, up) @ home) is expected, up
    for axis in (X, Y, -X):
        near, far = (se3.pose(np.eye(3), (CORRIDOR + d) * axis) for d in (-1e-6, 1e-6))
        assert inside(near @ home)
        assert not inside(far @ home)
        assert not inside(near @ home, reach=2e-6)
    assert not inside(home, turn=CORRIDOR_TILT + 1e-6)


@pytest.mark.parametrize(("part", "feature"), [("pin", "tip"), ("screw", "shank")])
def test_a_mate_allows_no_tilt_but_any_free_roll(part: str, feature: str) -> None:
    line = corridor(part, "block", MateCorridor)
    frame = first_fit().product.part(part).feature(feature).frame.matrix
    tilted = [
        HOME[part] @ frame @ se3.rotation(X, CORRIDOR_TILT * share) @ se3.inverse(frame)
        for share in (0.99, 1.01)
    ]
    assert line.relief(poses(**{part: tilted[0]}), 0, 0) is not None
    assert line.relief(poses(**{part: tilted[1]}), 0, 0) is None
    assert line.relief(poses(**{part: about(HOME[part], Z, 1.0)}), 0, 0) is not None


def test_the_cover_may_not_roll_for_its_second_pair_sets_that() -> None:
    line = corridor("cover", "block", MateCorridor)
    hole = se3.translation(-0.028, 0, 0)
    for share, expected in ((0.99, True), (1.01, False)):
        rolled = HOME["cover"] @ hole @ se3.rotation(Z, share * CORRIDOR_TILT) @ se3.inverse(hole)
        assert (line.relief(poses(cover=rolled), 0, 0) is not None) is expected


def test_a_place_is_a_line_along_its_z() -> None:
    project = first_fit()
    line = corridor("pin", "tray", PlaceCorridor)
    holder, place = project.cell.place_of("pin")
    home = holder.pose.matrix @ place.pose.matrix
    wide = place.slack + PLACE_LATERAL
    for T, expected in (
        (home, True),
        (se3.translation(wide - 1e-6, 0, 0) @ home, True),
        (se3.translation(0, wide + 1e-6, 0) @ home, False),
        (se3.translation(0, 0, PLACE_EXIT - 1e-6) @ home, True),
        (se3.translation(0, 0, PLACE_EXIT + 1e-6) @ home, False),
        (about(home, X, PLACE_TILT - 1e-6), True),
        (about(home, X, PLACE_TILT + 1e-6), False),
    ):
        assert (line.relief(poses(pin=T), 0, 0) is not None) is expected


def test_a_bit_in_its_socket_is_set_back_by_its_depth() -> None:
    line = corridor("driver", "screw", BitCorridor)
    at_mouth = HOME["screw"] @ se3.translation(0, 0, 4e-3)
    for depth, expected in ((0.0, True), (1e-3, True), (2e-3, True), (2.1e-3, False), (-LEAD - 1e-6, False)):
        step = line.relief(poses(driver=at_mouth @ se3.translation(0, 0, -depth)), 0, 0)
        assert (step is not None) is expected, depth
        if step is not None:
            assert step == pytest.approx([0, 0, max(depth, 0) + SKIN], abs=1e-12)
    aside = at_mouth @ se3.translation(CORRIDOR + 1e-6, 0, 0)
    assert line.relief(poses(driver=aside), 0, 0) is None


def test_a_touch_lies_between_its_travel_and_its_overtravel() -> None:
    touch = Touch("pin", (4e-3, 0, 0), "block", "end", (0.0, 0.0, -1.0), 0.010, 0.002, 2.0, 0.005)
    line = TouchCorridor(first_fit().product, touch)
    # The end face stands at x = -50 mm, looking along -x; the side of the pin meets it at x = -54 mm.
    for x, expected in ((-54, True), (-64.9, True), (-65.1, False), (-52, True), (-51.9, False)):
        step = line.relief(poses(pin=se3.translation(x / 1e3, 0.45, 0.030)), 0, 0)
        assert (step is not None) is expected, x
        if step is not None:
            assert step == pytest.approx([-(max(x + 54, 0) / 1e3 + SKIN), 0, 0], abs=1e-12)
    for y, z, expected in (
        (0.45, 0.044, True),
        (0.45, 0.046, False),
        (0.474, 0.03, True),
        (0.476, 0.03, False),
    ):
        at = se3.translation(-0.054, y, z)
        assert (line.relief(poses(pin=at), 0, 0) is not None) is expected


def test_a_touch_that_leads_away_from_the_face_allows_nothing() -> None:
    away = Touch("pin", (4e-3, 0, 0), "block", "end", (0.0, 0.0, 1.0), 0.010, 0.002, 2.0, 0.005)
    line = TouchCorridor(first_fit().product, away)
    assert line.relief(poses(pin=se3.translation(-0.054, 0.45, 0.030)), 0, 0) is None


def test_threads_overlap_by_their_depth_and_fits_by_nothing() -> None:
    # M4: d = 4, D1 = 3.242 (ISO 68-1 basic profile, tabled in ISO 724); H7/g6 always has clearance (ISO 286).
    skins = {frozenset((x.a, x.b)): x.skin for x in lasting(first_fit()) if x.reason == "mate"}
    assert skins[frozenset(("screw", "block"))] == pytest.approx(SKIN + (4.0 - 3.242) / 2 * 1e-3, abs=1e-6)
    assert skins[frozenset(("pin", "block"))] == SKIN
    assert skins[frozenset(("screw", "cover"))] == SKIN
    assert math.isclose(skins[frozenset(("cover", "block"))], SKIN)
