"""Where a hand may hold a part while screws go in: by the ends of long faces, if these are out of the way."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from handfast.geometry.cad.drawn_feature import DrawnFeature, pose_of
from handfast.geometry.cad.face_graph import FaceGraph
from handfast.mates.from_cad.chosen_features import ChosenFeatures
from handfast.mates.from_cad.end_faces import add_end_faces
from handfast.mates.from_cad.guess import GuessedMate
from handfast.mates.from_cad.placed import Placed
from handfast.mates.from_cad.standard_part import StandardPart
from handfast.model.feature import Feature
from handfast.model.mate import Mate

X, Y, Z = np.eye(3)
NONE = np.zeros((0, 3))
GRAPH = FaceGraph((), (), NONE, NONE.astype(int), np.zeros(0, dtype=int), 1.0, np.zeros(3))


def face(name: str, at: np.ndarray, z: np.ndarray, size: tuple[float, float]) -> DrawnFeature:
    pose = pose_of(at * 1e-3, z)
    feature = Feature(name, "face", pose, size=(size[0] * 1e-3, size[1] * 1e-3))
    return DrawnFeature(feature, (pose,), (None,), "flat", (), 0.99, "")


def bar(length: float) -> Placed:
    """So long [mm] along x, 40 mm wide, 6 mm thick, about the origin."""
    faces = (
        face("back", 20 * Y, Y, (length, 6)), face("front", -20 * Y, -Y, (length, 6)),
        face("top", 3 * Z, Z, (length, 40)), face("under", -3 * Z, -Z, (length, 40)),
    )  # fmt: skip
    return Placed("bar", 0, GRAPH, np.eye(4), faces, None)


def screw(name: str, x: float) -> Placed:
    T = np.eye(4)
    T[0, 3] = x * 1e-3
    tip = pose_of(np.array([0, 0, -0.012]), -Z)
    shank = DrawnFeature(
        Feature("shank", "shaft", tip, diameter=4e-3, length=12e-3), (tip,), (None,), "", (), 0.99, ""
    )
    return Placed(name, 1, GRAPH, T, (shank,), StandardPart("screw", "M4", 0.9, "", "M4", "shank"))


def added(length: float, *at: float) -> dict[str, Feature]:
    """The features that a bar gets with screws at these places along it [mm]."""
    parts = (bar(length), *(screw(f"s{k}", x) for k, x in enumerate(at)))
    held = Mate("bar-on", "seat", "bar", "base", (), held_until="s0")
    drive = [Mate(f"s{k}", "screw", f"s{k}", "base", (), clamps=("bar",)) for k in range(len(at))]
    chosen = ChosenFeatures(parts)
    add_end_faces(parts, [GuessedMate(m, 0.9, "") for m in (held, *drive)], chosen)
    return {g.feature.name: g.feature for g in chosen.chosen.values()}


def test_the_end_away_from_the_screw_is_offered_between_the_sides_that_jaws_close_on() -> None:
    found = added(90, 40)
    assert sorted(found) == ["back_end", "front_end"]
    for end in found.values():
        assert end.size == pytest.approx((30e-3, 6e-3))
        assert end.frame.position[0] == pytest.approx(-30e-3)
    assert added(90, -40)["back_end"].frame.position[0] == pytest.approx(30e-3)


def test_screws_at_both_ends_leave_none() -> None:
    assert added(90, -40, 40) == {}


def test_a_short_face_has_no_ends() -> None:
    assert added(45, 20) == {}


def test_a_part_that_nobody_holds_is_left_alone() -> None:
    parts = (bar(90), screw("s0", 40))
    mates = [
        Mate("bar-on", "seat", "bar", "base", ()),
        Mate("s0", "screw", "s0", "base", (), clamps=("bar",)),
    ]
    chosen = ChosenFeatures(parts)
    add_end_faces(parts, [GuessedMate(m, 0.9, "") for m in mates], chosen)
    assert chosen.chosen == {}


def test_turned_parts_get_their_ends_where_they_are() -> None:
    """The assembly turned as a whole changes nothing in the part."""
    turn = np.array([[0, -1, 0, 0.1], [0, 0, -1, 0.2], [1, 0, 0, 0.3], [0, 0, 0, 1.0]])
    parts = tuple(replace(p, T_assembly_part=turn @ p.T_assembly_part) for p in (bar(90), screw("s0", 40)))
    mates = [
        Mate("bar-on", "seat", "bar", "base", (), held_until="s0"),
        Mate("s0", "screw", "s0", "base", (), clamps=("bar",)),
    ]
    chosen = ChosenFeatures(parts)
    add_end_faces(parts, [GuessedMate(m, 0.9, "") for m in mates], chosen)
    straight = added(90, 40)
    for guess in chosen.chosen.values():
        assert guess.feature.frame == straight[guess.feature.name].frame
