"""What a drawing states for a feature, as the project keeps it. Deviations: ISO 286-2 tables, from memory, as
the standards' own tests have them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from handfast.geometry.cad.drawn_feature import DrawnFeature
from handfast.geometry.cad.tolerance import Tolerance
from handfast.mates.from_cad.stated import StatedFeature, as_stated, nearest_class, with_tolerances
from handfast.model.feature import Feature
from handfast.spatial.pose import Pose
from handfast.standards.limits_and_fits import Limits

UM = 1e-6


def hole(diameter: float, kind: str = "hole") -> DrawnFeature:
    """Of a millimetre size."""
    feature = Feature("it", kind, Pose(), diameter=diameter * 1e-3, length=10e-3)  # type: ignore[arg-type]
    return DrawnFeature(feature, (Pose(),), (None,), "through", (4, 5), 0.99, "")


def size(nominal: float, fit: str | None = None, apart: tuple[float, float] | None = None) -> Tolerance:
    """In mm, deviations in um."""
    lower, upper = (None, None) if apart is None else (apart[0] * UM, apart[1] * UM)
    return Tolerance((4,), "size", nominal * 1e-3, lower, upper, fit, "")


def said(drawn: DrawnFeature, *tolerances: Tolerance) -> StatedFeature:
    return as_stated(replace(drawn, tolerances=tolerances), drawn.feature)


def test_tolerances_go_to_the_feature_whose_faces_they_are_about() -> None:
    mine, theirs = hole(8), replace(hole(6), faces=(7,))
    with_them = with_tolerances((mine, theirs), (size(8, "H7"),))
    assert [len(d.tolerances) for d in with_them] == [1, 0]


@pytest.mark.parametrize(("apart", "fit"), [((0, 15), "H7"), ((13, 28), "F7"), ((0, 22), "H8")])
def test_limits_that_are_a_class_become_that_class(apart: tuple[float, float], fit: str) -> None:
    found = said(hole(8), size(8, apart=apart))
    assert (found.feature.fit, found.question) == (fit, "")
    assert "stated 8 +0.0" in found.note


def test_limits_that_are_no_class_become_a_question() -> None:
    found = said(hole(8), size(8, apart=(-3, 17)))
    assert "no class of ISO 286" in found.question
    assert found.feature.fit is not None
    assert found.feature.fit in found.question


def test_the_nearest_class_of_a_shaft() -> None:
    fit, limits = nearest_class(8e-3, Limits(-14 * UM, -5 * UM), is_hole=False)
    assert fit == "g6"
    assert limits == Limits(-14 * UM, -5 * UM)


def test_a_hole_drawn_in_the_middle_of_its_limits_gets_its_nominal_size() -> None:
    found = said(hole(8.0075), size(8, "H7"))
    assert found.feature.diameter == pytest.approx(8e-3)
    assert (found.feature.fit, found.question) == ("H7", "")
    assert "drawn 8.0075 mm within it" in found.note


def test_a_drawn_size_outside_its_limits_is_a_question_and_stays_as_drawn() -> None:
    found = said(hole(8.2), size(8, "H7"))
    assert found.feature.diameter == pytest.approx(8.2e-3)
    assert found.feature.fit is None
    assert found.question == "drawn 8.2 mm, stated 8 H7: which is right? The drawn size is written."


def test_a_class_of_the_other_sex_is_a_question() -> None:
    found = said(hole(8), size(8, "g6"))
    assert found.feature.fit is None
    assert "a class of shafts, on a hole" in found.question
    assert said(hole(8, "shaft"), size(8, "g6")).feature.fit == "g6"


def test_two_sizes_that_differ_are_a_question() -> None:
    found = said(hole(8), size(8, "H7"), size(8, "H8"))
    assert found.feature.fit == "H7"
    assert found.question == "it is stated twice: is it H7, or 8 H8?"


def zone(kind: str, width: float, round_: bool = True) -> Tolerance:
    return Tolerance((4,), kind, None, None, None, None, "", width * 1e-3, round_, ("A", "B"))


def test_a_position_is_kept_and_what_has_no_place_is_told() -> None:
    found = said(hole(8), size(8, "H7"), zone("position", 0.1), zone("perpendicularity", 0.05))
    assert found.feature.position_tolerance == pytest.approx(0.1e-3)
    assert found.feature.fit == "H7"
    assert "position 0.1 mm (round) to A, B" in found.note
    assert "perpendicularity 0.05 mm (round) to A, B, for which a project has no place" in found.note
    assert found.question == ""


def test_zones_that_are_taken_for_a_position_are_asked_about() -> None:
    assert "is the datum where the part is located?" in said(hole(8), zone("coaxiality", 0.1)).question
    flat = said(hole(8), zone("position", 0.1, round_=False))
    assert "not round" in flat.question
    both = said(hole(8), zone("position", 0.1), zone("position", 0.2))
    assert both.feature.position_tolerance == pytest.approx(0.2e-3)
    assert "the wider is written" in both.question
