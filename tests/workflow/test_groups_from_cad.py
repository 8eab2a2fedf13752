"""The projects with sub-assemblies, a turned and a held base, each begun from its STEP assembly alone, beside
the one that was written by hand."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest
from tests.workflow.differences import differences

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.model.chart import Chart
from handfast.model.product import Product
from handfast.planning.plan import plan
from handfast.proof.verify import verify
from handfast.workflow.new_from_cad import new_from_cad

pytestmark = pytest.mark.slow
PROJECTS = Path(__file__).parents[2] / "projects"
NAMES = ("valve-bank", "relay-frame", "hand-grip")

# Never drawn, everything being drawn nominal: which class of fit. By the feature's name in the project
# written by hand, without numbers: as it is guessed, as it is there.
_PIN, _IN_PIN_HOLE, _OVER_PIN = ("m6", "h6"), ("E8", "G7"), ("E8", "E9")
DIFFERENCES = {
    "valve-bank": {
        **dict.fromkeys(("pin.tip", "pin.top"), _PIN),
        "body.pin": _IN_PIN_HOLE,
        "cap.hole": _OVER_PIN,
        "manifold.boss": ("f7", "e8"),
    },
    "relay-frame": {
        **dict.fromkeys(("pin.tip", "pin.top"), _PIN),
        "frame.pin": _IN_PIN_HOLE,
        "cover.hole": _OVER_PIN,
    },
    "hand-grip": {
        **dict.fromkeys(("pin.tip", "pin.top"), _PIN),
        "plunger.tip": ("m6", "f7"),  # as long and thick as a pin of the standard: taken for one
        "handle.bore": ("E8", "H8"),
        "handle.pin": ("E8", "F7"),
        "cap.hole": _OVER_PIN,
    },
}


def called_by_hand(text: str) -> str:
    """The drawing has one valve used four times, so its parts are numbered last: pin_a_1 is the pin_1a
    written by hand."""
    text = re.sub(r"\b(pin|screw)_(\d)([ab])\b", r"\1_\3_\2", text)
    return re.sub(r"\bscrew_(\d)f\b", r"foot_screw_\1", text)


@pytest.fixture(scope="module")
def folders(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    found = {}
    for name in NAMES:
        found[name] = tmp_path_factory.mktemp("cad") / "rig"
        new_from_cad(found[name], PROJECTS / name / "assembly.step")
    return found


def plain(name: str) -> str:
    """A feature's name without the numbers and letters that tell equal ones apart."""
    return ".".join(re.sub(r"_[ab]?\d*[ab]?(_\d)?$", "", word) for word in name.split("."))


def of_folder(folder: Path) -> CheckedProject:
    found = check_folder(folder)
    assert isinstance(found, CheckedProject), found
    return found


def by_hand(name: str, folder: Path) -> Product:
    """The project written by hand, its parts called as the drawing calls them."""
    shutil.copytree(PROJECTS / name, folder, ignore=shutil.ignore_patterns("records"))
    for file in ("product.yaml", "cell.yaml"):
        text = (folder / file).read_text(encoding="utf-8")
        (folder / file).write_text(called_by_hand(text), encoding="utf-8")
    return of_folder(folder).project.product


@pytest.mark.parametrize("name", NAMES)
def test_every_mate_is_found(folders: dict[str, Path], name: str, tmp_path: Path) -> None:
    theirs = by_hand(name, tmp_path / "by_hand")
    ours = of_folder(folders[name]).project.product
    assert ours.base == theirs.base
    assert len(ours.mates) == len(theirs.mates)
    told = set()
    for words in differences(ours, theirs):
        fit = re.fullmatch(r"fit of ([\w.]+): (\w+), by hand (\w+)", words)
        assert fit is not None, words
        told.add((plain(fit[1]), (fit[2], fit[3])))
    assert told == set(DIFFERENCES[name].items())


def test_what_is_drawn_as_a_sub_assembly_is_built_apart(folders: dict[str, Path], tmp_path: Path) -> None:
    theirs = by_hand("valve-bank", tmp_path / "by_hand")
    ours = of_folder(folders["valve-bank"]).project.product
    part = {m.name: m.part for p in (ours, theirs) for m in p.mates}
    ours_apart, theirs_apart = (
        {s.name: (s.base, {part[m] for m in s.mates}) for s in p.subassemblies} for p in (ours, theirs)
    )
    assert ours_apart == theirs_apart
    assert list(ours_apart) == ["valve_1", "valve_2", "valve_3", "valve_4"]
    stays = {m.part for m in ours.mates if m.stays}
    assert stays == {m.part for m in theirs.mates if m.stays}
    text = (folders["valve-bank"] / "product.yaml").read_text()
    assert text.count("# ? does it stay in by itself while valve_") == 8
    assert "# ? Drawn as sub-assemblies: are they built apart" in text


def test_what_comes_in_from_below_turns_the_product_over(folders: dict[str, Path], tmp_path: Path) -> None:
    theirs = by_hand("relay-frame", tmp_path / "by_hand")
    ours = of_folder(folders["relay-frame"]).project.product
    assert {m.part: m.stands for m in ours.mates} == {m.part: m.stands for m in theirs.mates}
    assert {m.part for m in ours.mates if m.stays} == {m.part for m in theirs.mates if m.stays}


@pytest.mark.parametrize("name", NAMES)
def test_it_plans_in_its_stand_in_cell(folders: dict[str, Path], name: str) -> None:
    checked = of_folder(folders[name])
    chart = plan(checked, seed=0)
    assert isinstance(chart, Chart), chart
    assert set(chart.mates) == {m.name for m in checked.project.product.mates}
    assert verify(checked.project, chart, "").holds


@pytest.mark.parametrize("name", NAMES)
def test_it_plans_in_the_cell_written_by_hand(folders: dict[str, Path], name: str, tmp_path: Path) -> None:
    """Nothing in the product is corrected; only what a drawing never says, the cell, is put in."""
    by_hand(name, tmp_path / "by_hand")
    shutil.copytree(folders[name], tmp_path / "rig")
    for file in ("cell.yaml", "errors.yaml"):
        shutil.copy(tmp_path / "by_hand" / file, tmp_path / "rig" / file)
    for file in ("arms", "meshes"):
        shutil.copytree(tmp_path / "by_hand" / file, tmp_path / "rig" / file, dirs_exist_ok=True)
    checked, theirs = of_folder(tmp_path / "rig"), of_folder(tmp_path / "by_hand")
    ours_chart, theirs_chart = plan(checked, seed=0), plan(theirs, seed=0)
    assert isinstance(ours_chart, Chart), ours_chart
    assert isinstance(theirs_chart, Chart), theirs_chart
    assert len(ours_chart.mates) == len(theirs_chart.mates)
    assert ours_chart.makespan_s < 1.15 * theirs_chart.makespan_s
