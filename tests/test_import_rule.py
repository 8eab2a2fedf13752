"""The import rule is real: a forbidden import planted in a copy of the package turns the check red."""

from __future__ import annotations

import configparser
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
HEAVY = ("mujoco", "OCP", "fastapi", "coal", "pinocchio", "ortools")


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """Return a folder with a copy of the package and the rule."""
    shutil.copytree(
        ROOT / "src" / "handfast", tmp_path / "handfast", ignore=shutil.ignore_patterns("__pycache__")
    )
    shutil.copy(ROOT / ".importlinter", tmp_path)
    return tmp_path


def lint(folder: Path) -> subprocess.CompletedProcess[str]:
    # -S keeps the hook of an editable installation out: the copy is what is judged.
    site = os.pathsep.join([str(folder), *(p for p in sys.path if p.endswith("site-packages"))])
    program = "from importlinter.cli import lint_imports_command as command; command()"
    return subprocess.run(
        [sys.executable, "-S", "-c", program, "--no-cache", "--no-logo"],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": site},
        capture_output=True,
        text=True,
        check=False,
    )


def plant(folder: Path, layer: str, line: str) -> None:
    package = folder / "handfast" / layer
    assert package.is_dir()
    (package / "planted.py").write_text(line + "\n", encoding="utf-8")


def contracts() -> dict[str, configparser.SectionProxy]:
    parser = configparser.ConfigParser()
    parser.read(ROOT / ".importlinter", encoding="utf-8")
    return {name.split(":", 2)[2]: parser[name] for name in parser.sections() if name.count(":") == 2}


def test_the_package_keeps_the_rule(copy: Path) -> None:
    result = lint(copy)
    assert result.returncode == 0, result.stdout + result.stderr
    assert f"{len(contracts())} kept, 0 broken" in result.stdout


@pytest.mark.parametrize(
    ("layer", "line", "contract"),
    [
        ("spatial", "from handfast.model import part", "Imports point down only"),
        ("trials", "import handfast.uncertainty", "Imports point down only"),
        ("planning", "from .. import uncertainty", "Imports point down only"),
        ("page", "import handfast.report", "Imports point down only"),
        ("belief", "import handfast.motion", "Imports point down only"),
        ("geometry", "import handfast.kinematics", "Imports point down only"),
        ("standards", "import handfast.spatial", "Imports point down only"),
        ("proof", "from handfast.kinematics import chain", "The proof does not lean on what it proves"),
        ("proof", "def late():\n    import handfast.geometry", "Imports point down only"),
        ("proof", "from handfast import _kernel", "The proof does not reach the compiled kernel"),
        ("proof", "import handfast._kernel as k", "The proof does not reach the compiled kernel"),
        ("proof", "from .._kernel import forward", "The proof does not reach the compiled kernel"),
        ("model", "from handfast import _kernel", "The proof does not reach the compiled kernel"),
        ("execution", "import mujoco", "Physics engine: one door, trials"),
        ("files", "from OCP.gp import gp_Pnt", "CAD kernel: one door, geometry"),
        ("workflow", "import fastapi", "HTTP: one door, page"),
        ("motion", "import coal", "Exact collision: geometry, and the proof by its own way"),
        ("kinematics", "import pinocchio", "Rigid-body library: the proof only"),
        ("mates", "from ortools.sat.python import cp_model", "Constraint solver: one door, planning"),
    ],
)
def test_a_planted_import_is_caught(copy: Path, layer: str, line: str, contract: str) -> None:
    plant(copy, layer, line)
    result = lint(copy)
    assert result.returncode == 1, result.stdout + result.stderr
    assert f"{contract} BROKEN" in result.stdout
    assert f"handfast.{layer}.planted" in result.stdout


def test_a_layer_without_a_place_is_caught(copy: Path) -> None:
    (copy / "handfast" / "helpers").mkdir()
    (copy / "handfast" / "helpers" / "__init__.py").write_text("", encoding="utf-8")
    result = lint(copy)
    assert result.returncode == 1
    assert "- handfast.helpers" in result.stdout


def test_the_doors_are_where_the_rule_says(copy: Path) -> None:
    for layer, line in (
        ("trials", "import mujoco"),
        ("proof", "import coal"),
        ("kinematics", "from handfast import _kernel"),
    ):
        plant(copy, layer, line)
    assert lint(copy).returncode == 0


def test_each_door_shuts_out_every_other_layer() -> None:
    layers = {
        folder.name for folder in (ROOT / "src" / "handfast").iterdir() if (folder / "__init__.py").exists()
    }
    doors = {name: section for name, section in contracts().items() if name.endswith("-door")}
    guarded = {library for section in doors.values() for library in section["forbidden_modules"].split()}
    assert guarded >= set(HEAVY)
    for name, section in doors.items():
        shut_out = {module.removeprefix("handfast.") for module in section["source_modules"].split()}
        assert shut_out <= layers, name
        assert 1 <= len(layers - shut_out) <= 2, f"{name}: open to {sorted(layers - shut_out)}"
