"""A project from an AP242 file: what the drawing states is written, what it leaves open or contradicts is
asked."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.geometry.cad.step_writer import at, write_step
from tests.geometry.cad.tolerance_writer import Size, Zone, bore, cylinders, planes, stated
from tests.verification.cad import draw

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.workflow.new_from_cad import new_from_cad

UP = (0, 0, 1)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A block with two bores, a pin in each. One bore is drawn in the middle of its limits; of the other pair
    only the pin states a class, and a third bore is drawn too wide."""
    home = tmp_path_factory.mktemp("stated")
    block = draw.box((-40, -20, 0), (40, 20, 30))
    for x, d in ((-20.0, 8.0075), (20.0, 6.0), (0.0, 5.2)):
        block = draw.cut(block, draw.rod((x, 0, 30), (0, 0, -1), d, 20))
    wide, narrow = (draw.rod((0, 0, -15), UP, d, 40) for d in (7.9905, 6.0))
    bores = {8: bore(block, 8.0075), 6: bore(block, 6), 5: bore(block, 5.2)}
    parts = [("block", block, at(0, 0, 0)), ("wide", wide, at(-20, 0, 30)), ("narrow", narrow, at(20, 0, 30))]
    write_step(
        home / "rig.step", "rig", parts,
        more=stated(
            Size(block, (bores[8],), 8.0, fit="H7"),
            Size(wide, (cylinders(wide)[0],), 8.0, apart=(-0.014, -0.005)),
            Size(narrow, (cylinders(narrow)[0],), 6.0, fit="h6"), Size(block, (bores[5],), 5.0, fit="H7"),
            Zone(block, (bores[8],), "Position", 0.1, datum=("A", planes(block)[0])),
            Zone(block, (bores[6],), "Perpendicularity", 0.02, datum=("A", planes(block)[0])),
        ),
    )  # fmt: skip
    new_from_cad(home / "rig", home / "rig.step")
    return home / "rig"


def test_stated_fits_and_places_are_in_the_project(folder: Path) -> None:
    checked = check_folder(folder)
    assert isinstance(checked, CheckedProject), checked
    parts = {p.name: {f.name: f for f in p.features} for p in checked.project.product.parts}
    mates = {m.part: m.pairs[0] for m in checked.project.product.mates}
    bore, pin = parts["block"][mates["wide"].fixed], parts["wide"][mates["wide"].moving]
    assert (bore.fit, pin.fit) == ("H7", "g6")
    assert bore.diameter == pytest.approx(8e-3)
    assert pin.diameter == pytest.approx(8e-3)
    assert bore.position_tolerance == pytest.approx(0.1e-3)
    other = parts["block"][mates["narrow"].fixed], parts["narrow"][mates["narrow"].moving]
    assert [f.fit for f in other] == ["H7", "h6"]  # the hole's is a guess


def lines_before(text: str, entry: str) -> list[str]:
    """The remarks right above an entry of the file."""
    lines = text.splitlines()
    at_line = next(k for k, line in enumerate(lines) if line.strip().startswith(entry))
    first = at_line
    while lines[first - 1].strip().startswith("#"):
        first -= 1
    return [line.strip() for line in lines[first:at_line]]


def test_remarks_and_questions_stand_where_their_answers_go(folder: Path) -> None:
    text = (folder / "product.yaml").read_text()
    stated_bore = lines_before(text, "hole_8")
    assert stated_bore == [
        "# stated 8 H7, drawn 8.0075 mm within it: the stated size is taken",
        "# stated position 0.1 mm (round) to A",
    ]
    (told, asked) = lines_before(text, "hole_6")
    assert "perpendicularity 0.02 mm (round) to A, for which a project has no place" in told
    assert asked.startswith("# ? drawn equal")
    too_wide = lines_before(text, "hole_5p2")
    assert "# ? drawn 5.2 mm, stated 5 H7: which is right? The drawn size is written." in too_wide
