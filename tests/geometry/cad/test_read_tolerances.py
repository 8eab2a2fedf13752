"""AP242 files written by the CAD library with limits, classes and zones, read back from the file alone."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.geometry.cad.step_writer import at, write_step
from tests.geometry.cad.tolerance_writer import Size, Zone, cylinders, planes, stated
from tests.verification.cad import draw

from handfast.geometry.cad.read_step import read_step
from handfast.geometry.cad.tolerance import Tolerance

UM = 1e-6


def plate() -> object:
    """60 x 30 x 20 mm with through holes of 8, 6 and 5 mm."""
    body = draw.box((0, 0, 0), (60, 30, 20))
    for x, d in ((10, 8), (30, 6), (50, 5)):
        body = draw.cut(body, draw.rod((x, 15, -1), (0, 0, 1), d, 30))
    return body


def read(path: Path, *tolerances: Size | Zone, unit: str = "MM") -> dict[int, list[Tolerance]]:
    """By nominal diameter of the hole [mm] that they are about."""
    shape = tolerances[0].shape
    write_step(path / "plate.step", "plate", [("plate", shape, at(0, 0, 0))], unit, more=stated(*tolerances))
    (drawing,) = read_step(path / "plate.step").drawings
    found: dict[int, list[Tolerance]] = {}
    for t in drawing.tolerances:
        (face,) = t.faces
        assert drawing.graph.faces[face].kind == "cylinder"
        found.setdefault(round(2e3 * drawing.graph.faces[face].radius), []).append(t)
    return found


@pytest.mark.parametrize(("unit", "mm"), [("MM", 1.0), ("INCH", 25.4)])
def test_limits_in_any_of_their_forms(tmp_path: Path, unit: str, mm: float) -> None:
    """Deviations both above nominal too. The library writes numbers of dimensions as they are given, whatever
    the unit."""
    body = plate()
    eight, six, five = cylinders(body)
    found = read(
        tmp_path, Size(body, (eight,), 8.0 / mm, apart=(-0.005 / mm, 0.015 / mm)),
        Size(body, (six,), 6.0 / mm, bounds=(6.0 / mm, 6.03 / mm)),
        Size(body, (five,), 2.5 / mm, kind="Size_Radius", apart=(0.002 / mm, 0.006 / mm)), unit=unit,
    )  # fmt: skip
    for size, (nominal, lower, upper) in {8: (8, -5, 15), 6: (6, 0, 30), 5: (5, 4, 12)}.items():
        (t,) = found[size]
        assert (t.kind, t.fit) == ("size", None)
        assert t.nominal == pytest.approx(nominal * 1e-3, abs=1e-9)
        assert t.lower == pytest.approx(lower * UM, abs=1e-9)
        assert t.upper == pytest.approx(upper * UM, abs=1e-9)


def test_classes_are_read_as_the_file_spells_them(tmp_path: Path) -> None:
    body = plate()
    eight, six, five = cylinders(body)
    found = read(
        tmp_path, Size(body, (six,), 6.0, fit="g6"), Size(body, (five,), 5.0, apart=(0.0, 0.01)),
        Size(body, (eight,), 8.0, fit="H7"),
    )  # fmt: skip
    text = (tmp_path / "plate.step").read_text()
    assert "LIMITS_AND_FITS('H','hole','7','')" in text
    assert "LIMITS_AND_FITS('g','shaft','6','')" in text
    assert {size: [t.fit for t in ts] for size, ts in found.items()} == {8: ["H7"], 6: ["g6"], 5: [None]}


def test_a_class_written_beside_a_dimension_counts(tmp_path: Path) -> None:
    body = plate()
    eight, six, _ = cylinders(body)
    found = read(tmp_path, Size(body, (eight,), 8.0, text="8 H7"), Size(body, (six,), 6.0, text="6 +0.012/0"))
    assert [(t.fit, t.text) for t in found[8]] == [("H7", "8 H7")]
    assert found[6][0].upper == pytest.approx(12 * UM)


def test_zones_with_their_datums(tmp_path: Path) -> None:
    body = plate()
    eight, six, _ = cylinders(body)
    found = read(
        tmp_path, Size(body, (six,), 6.0, fit="H7"),
        Zone(body, (eight,), "Position", 0.1, datum=("A", planes(body)[0])),
        Zone(body, (six,), "Perpendicularity", 0.05, round=False, datum=("A", planes(body)[0])),
    )  # fmt: skip
    (position,) = found[8]
    assert (position.kind, position.round) == ("position", True)
    assert position.zone == pytest.approx(0.1e-3)
    assert position.datums == ("A",)
    _, square = found[6]
    assert (square.kind, square.round) == ("perpendicularity", False)
    assert square.zone == pytest.approx(0.05e-3)


def test_a_part_used_twice_states_its_tolerances_once(tmp_path: Path) -> None:
    body = plate()
    size = Size(body, (cylinders(body)[0],), 8.0, fit="H7")
    uses = [("one", body, at(0, 0, 0)), ("two", body, at(0, 0, 50)), ("other", plate(), at(0, 80, 0))]
    write_step(tmp_path / "rig.step", "rig", uses, more=stated(size))
    found = read_step(tmp_path / "rig.step")
    assert [len(d.tolerances) for d in found.drawings] == [1, 0]
