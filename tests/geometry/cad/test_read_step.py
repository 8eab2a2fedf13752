"""STEP files read back: structure, names, colours, units, equal parts; and every kind of file that is
none."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from OCP.BRep import BRep_Builder
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace
from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox, BRepPrimAPI_MakeCylinder
from OCP.gp import gp_Dir, gp_Pln, gp_Pnt
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS_Shell, TopoDS_Solid
from tests.geometry.cad.step_writer import at, write_step

from handfast.geometry.cad.cad_error import CadError
from handfast.geometry.cad.read_cad import Limits, read_cad
from handfast.geometry.cad.read_step import read_step
from handfast.geometry.cad.step_text import look_at_text

PUMP = Path(__file__).parents[3] / "projects" / "dosing-pump" / "assembly.step"
TURN = np.array([[0, -1, 0, 10.0], [1, 0, 0, 20.0], [0, 0, 1, 30.0], [0, 0, 0, 1]])


def two_parts(path: Path, unit: str = "MM") -> Path:
    block = BRepPrimAPI_MakeBox(40.0, 30.0, 20.0).Shape()
    pin = BRepPrimAPI_MakeCylinder(3.0, 12.0).Shape()
    return write_step(
        path, "rig",
        [("block", block, at(0, 0, 0)), ("pin_a", pin, TURN), ("pin_b", pin, at(5, 5, 20))], unit,
        {id(pin): "pin"}, {id(block): (0.2, 0.4, 0.6)},
    )  # fmt: skip


@pytest.mark.parametrize("unit", ["MM", "INCH", "M"])
def test_structure_names_colours_and_sizes_whatever_the_unit(tmp_path: Path, unit: str) -> None:
    found = read_step(two_parts(tmp_path / "rig.step", unit))
    assert found.name == "rig"
    assert [d.name for d in found.drawings] == ["block", "pin"]
    assert [(i.name, i.drawing) for i in found.instances] == [("block", 0), ("pin_a", 1), ("pin_b", 1)]
    assert found.drawings[0].colour == pytest.approx((0.2, 0.4, 0.6), abs=0.01)
    assert found.drawings[1].colour is None
    graph = found.drawings[0].graph
    assert graph.volume == pytest.approx(40e-3 * 30e-3 * 20e-3, rel=1e-9)
    assert graph.centre == pytest.approx([0.020, 0.015, 0.010])
    expected = TURN.copy()
    expected[:3, 3] *= 1e-3
    np.testing.assert_allclose(found.instances[1].T_assembly_part, expected, atol=1e-9)
    assert any("inches" in note for note in found.notes) is (unit == "INCH")


def test_faces_know_their_surface_and_which_side_the_material_is_on(tmp_path: Path) -> None:
    found = read_step(two_parts(tmp_path / "rig.step"))
    pin = found.drawings[1].graph
    (flank,) = (f for f in pin.faces if f.kind == "cylinder")
    assert flank.radius == pytest.approx(3e-3)
    assert flank.outward == 1
    assert {f.kind for f in pin.faces} == {"cylinder", "plane"}
    for face in pin.faces:  # normals of flat faces look away from the middle
        if face.kind == "plane":
            assert (face.centre - pin.centre) @ face.axis > 0
    assert {e.bend for e in found.drawings[0].graph.edges} == {"convex"}
    assert len(found.drawings[0].graph.edges) == 12


def test_the_pump_has_thirteen_parts_of_nine_drawings() -> None:
    found = read_cad(PUMP)
    assert (len(found.instances), len(found.drawings)) == (13, 9)
    assert found.schema == "AUTOMOTIVE_DESIGN"
    assert len({i.drawing for i in found.instances if i.name.startswith("screw")}) == 1


def surface_only(path: Path) -> Path:
    face = BRepBuilderAPI_MakeFace(gp_Pln(gp_Pnt(0, 0, 0), gp_Dir(0, 0, 1)), 0, 10, 0, 10).Face()
    return write_step(path, "sheet", [("sheet", face, at(0, 0, 0))])


def _cut_off(path: Path) -> None:
    text = two_parts(path).read_text()
    path.write_text(text[: len(text) // 2])


def _without_unit(path: Path) -> None:
    text = two_parts(path).read_text()
    path.write_text(text.replace("LENGTH_UNIT()", "X_UNIT()"))


BAD: list[tuple[str, Any, str]] = [
    ("nothing there", lambda p: None, "cannot be read"),
    ("empty", lambda p: p.write_text(""), "found an empty one"),
    ("an STL", lambda p: p.write_text("solid x\nendsolid x\n"), "found an STL file"),
    ("a picture", lambda p: p.write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(50)), "begins with ISO-10303-21"),
    ("cut off", _cut_off, "expected END-ISO-10303-21 at the end"),
    ("no unit", _without_unit, "expected a length unit"),
    ("a surface", surface_only, "export solid bodies, not surfaces"),
    (
        "header only",
        lambda p: p.write_text("ISO-10303-21;\nHEADER;\nENDSEC;\nEND-ISO-10303-21;\n"),
        "DATA section",
    ),
    (
        "no shape",
        lambda p: p.write_text("ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\nENDSEC;\nEND-ISO-10303-21;\n"),
        "found no shape only",
    ),
]


@pytest.mark.parametrize(("what", "make", "words"), BAD, ids=[b[0] for b in BAD])
def test_what_is_no_usable_file_is_told_with_its_fix(
    tmp_path: Path, what: str, make: Any, words: str
) -> None:
    path = tmp_path / "part.step"
    make(path)
    with pytest.raises(CadError, match="expected") as told:
        read_cad(path)
    assert words in str(told.value)
    assert str(path) in str(told.value)


def in_one_shell(*solids: Any) -> Any:
    """A solid whose one shell is made of the faces of several."""
    shell, solid, builder = TopoDS_Shell(), TopoDS_Solid(), BRep_Builder()
    builder.MakeShell(shell)
    for shape in solids:
        walk = TopExp_Explorer(shape, TopAbs_ShapeEnum.TopAbs_FACE)
        while walk.More():
            builder.Add(shell, walk.Current())
            walk.Next()
    builder.MakeSolid(solid)
    builder.Add(solid, shell)
    return solid


def test_a_solid_that_runs_through_itself_is_refused_with_the_place(tmp_path: Path) -> None:
    block = BRepPrimAPI_MakeBox(20.0, 20.0, 20.0).Shape()
    beside = BRepPrimAPI_MakeBox(gp_Pnt(10, 10, 10), 20.0, 20.0, 20.0).Shape()
    apart = BRepPrimAPI_MakeBox(gp_Pnt(30, 0, 0), 5.0, 5.0, 5.0).Shape()
    path = write_step(tmp_path / "rig.step", "rig", [("crossed", in_one_shell(block, beside), at(0, 0, 0))])
    with pytest.raises(CadError, match=r"'crossed' runs through itself near \(20, 15, 10\) mm") as told:
        read_cad(path)
    assert "repair it where it was drawn" in str(told.value)
    sound = write_step(tmp_path / "two.step", "rig", [("two", in_one_shell(block, apart), at(0, 0, 0))])
    assert read_cad(sound).drawings[0].name == "two"


def test_a_space_without_unit_is_refused_with_its_line(tmp_path: Path) -> None:
    path = two_parts(tmp_path / "rig.step")
    text = path.read_text()
    broken = re.sub(r"GLOBAL_UNIT_ASSIGNED_CONTEXT\s*\(\s*\([^)]*\)\s*\)", "", text, count=1)
    assert broken != text
    path.write_text(broken)
    line = broken[: broken.index("GEOMETRIC_REPRESENTATION_CONTEXT")].count("\n") + 1
    with pytest.raises(CadError, match=f"line {line}: expected a length unit"):
        read_cad(path)


@pytest.mark.parametrize(("metre", "size"), [("$,.METRE.", "40 m"), (".MICRO.,.METRE.", "4e-05 m")])
def test_a_part_of_an_impossible_size_asks_for_its_unit(tmp_path: Path, metre: str, size: str) -> None:
    path = two_parts(tmp_path / "rig.step")
    path.write_text(path.read_text().replace(".MILLI.,.METRE.", metre))
    with pytest.raises(CadError, match=f"'block' {size} across; the unit of the file may be wrong"):
        read_cad(path)


def test_a_reader_that_breaks_off_does_not_blame_memory(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = two_parts(tmp_path / "rig.step")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    (tmp_path / "pickle.py").write_text("raise RuntimeError('no pickle today')\n")
    with pytest.raises(CadError, match=r"the reader broke off and should not have .*no pickle today"):
        read_cad(path)


def test_a_gigantic_file_is_refused_by_its_size(tmp_path: Path) -> None:
    path = two_parts(tmp_path / "rig.step")
    with pytest.raises(CadError, match=r"expected at most 0\.001 MB"):
        look_at_text(path, largest=1000)


def test_nonsense_between_the_right_lines_is_refused(tmp_path: Path) -> None:
    path = two_parts(tmp_path / "rig.step")
    text = path.read_text()
    start = text.index("DATA;") + 5
    words = "#1=MANIFOLD_SOLID_BREP('',#2);#3=(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.MILLI.,.METRE.));"
    path.write_text(text[:start] + words + "\nENDSEC;\nEND-ISO-10303-21;\n")
    with pytest.raises(CadError, match="expected"):
        read_cad(path)


def test_limits_of_time_and_memory_are_told(tmp_path: Path) -> None:
    path = two_parts(tmp_path / "rig.step")
    with pytest.raises(CadError, match=r"expected to be read within 0\.05 s"):
        read_cad(path, Limits(seconds=0.05))
    with pytest.raises(CadError, match=r"expected to be read within 0\.3 GB of memory"):
        read_cad(path, Limits(memory=300_000_000))


def test_progress_names_the_parts(tmp_path: Path) -> None:
    told: list[tuple[str, int, int]] = []
    read_cad(two_parts(tmp_path / "rig.step"), progress=lambda *what: told.append(what))
    assert ("part pin_a", 1, 3) in told
