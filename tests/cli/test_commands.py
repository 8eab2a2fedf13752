"""The program as a person uses it: answers, exit codes, and no traceback whatever it is given."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from handfast.cli.app import app

FIRST_FIT = Path(__file__).parents[2] / "projects" / "first-fit"


def handfast(*words: str | Path) -> Any:
    """Run a command in this process. Anything but an orderly end is raised here."""
    result = CliRunner().invoke(app, [str(w) for w in words])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def answer(*words: str | Path) -> dict[str, Any]:
    """The one JSON object that a command answers with."""
    found: dict[str, Any] = json.loads(handfast(*words, "--json").stdout)
    assert found["version"] == 1
    assert found["verb"] == words[0]
    return found


def still(verb: str, folder: Path) -> list[str | Path]:
    """The page as a file: left open it would go on for ever."""
    return ["--out", folder / "page.html"] if verb == "page" else []


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A copy of first-fit without records."""
    return Path(shutil.copytree(FIRST_FIT, tmp_path / "first-fit", ignore=shutil.ignore_patterns("records")))


def test_help_loads_nothing_heavy() -> None:
    program = (
        "import sys; from handfast.cli import main\n"
        "sys.argv = ['handfast', '--help']\n"
        "try: main()\n"
        "except SystemExit as end: print(end.code, *sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    code, *loaded = done.stdout.splitlines()[-1].split()
    assert code == "0"
    assert "handfast.cli.app" in loaded
    assert not {"numpy", "yaml", "pinocchio", "coal", "mujoco", "ortools", "handfast.workflow"} & set(loaded)
    for verb in ("check", "plan", "verify", "budget", "trial", "run", "show", "page", "explain"):
        assert re.search(rf"^  {verb} ", done.stdout, re.MULTILINE)


def test_check_says_yes() -> None:
    result = handfast("check", FIRST_FIT)
    assert result.exit_code == 0
    assert "first-fit: nothing wrong" in result.stdout
    assert answer("check", FIRST_FIT)["usable"] is True


def test_check_shows_every_mistake_with_its_place(folder: Path) -> None:
    product = folder / "product.yaml"
    lines = product.read_text().splitlines()
    at = next(i for i, line in enumerate(lines) if "mass: 16 g" in line)
    lines[at] = lines[at].replace("mass", "mas")
    product.write_text("\n".join(lines).replace("diameter: 8 mm, fit: H7", "diameter: 8, fit: H7"))
    result = handfast("check", folder)
    assert result.exit_code == 1
    assert f"product.yaml:{at + 1}:5: error: " in result.stdout
    assert "expected a length with its unit" in result.stdout
    found = answer("check", folder)
    assert found["usable"] is False
    assert {"unit", "unknown-key"} <= {f["rule"] for f in found["findings"]}
    assert all({"file", "line", "column", "expected", "found", "fix"} <= set(f) for f in found["findings"])


@pytest.mark.parametrize("verb", ["plan", "verify", "budget", "trial", "run", "page", "report", "export"])
def test_a_project_with_mistakes_cannot_be_used(verb: str, folder: Path) -> None:
    (folder / "cell.yaml").write_text("arms: 3\n")
    result = handfast(verb, folder, *still(verb, folder))
    assert result.exit_code == 2
    assert "cell.yaml:1:" in result.stderr
    assert "Traceback" not in result.output


@pytest.mark.parametrize(("verb", "code"), [("check", 1), ("plan", 2)])
def test_a_suction_cup_is_refused_in_words(verb: str, code: int, folder: Path) -> None:
    cell = (folder / "cell.yaml").read_text()
    opening = "    opening: [0 mm, 70 mm]\n"
    cup = "    suction: {diameter: 20 mm, force: 40 N}\n"
    (folder / "cell.yaml").write_text(cell.replace(opening, opening + cup, 1))
    result = handfast(verb, folder)
    assert result.exit_code == code
    told = " ".join(result.output.split())
    assert "found a suction cup fix hold the parts with two fingers, and leave `suction` out" in told
    assert not (folder / "records").exists()


@pytest.mark.parametrize(
    "verb", ["check", "plan", "verify", "budget", "trial", "run", "show", "page", "report", "export"]
)
@pytest.mark.parametrize("where", ["nothing-here", "project.yaml"])
def test_a_folder_that_is_none(verb: str, where: str, folder: Path) -> None:
    result = handfast(verb, folder / where)
    assert result.exit_code == 2
    assert "expected a project folder" in result.stderr


@pytest.mark.parametrize("verb", ["verify", "budget", "trial", "run", "show", "page", "report", "export"])
def test_without_a_chart_it_says_what_makes_one(verb: str, folder: Path) -> None:
    result = handfast(verb, folder, *still(verb, folder))
    assert result.exit_code == 2
    assert f"run `handfast plan {folder}` first" in result.stderr


@pytest.mark.parametrize("content", [b"", b"{", b"\xff\xfe", b'{"record": {"kind": "proof"}}', b"[1, 2]"])
def test_a_damaged_chart_is_refused(content: bytes, folder: Path) -> None:
    (folder / "records").mkdir()
    (folder / "records" / "chart.json").write_bytes(content)
    result = handfast("show", folder)
    assert result.exit_code == 2
    assert "chart.json: expected a " in result.stderr


def test_explain_knows_rules_and_names_them() -> None:
    known = handfast("explain", "unknown-key")
    assert known.exit_code == 0
    assert len(known.stdout) > 40
    unknown = handfast("explain", "no-such-rule")
    assert unknown.exit_code == 2
    assert "unknown-key" in unknown.output


@pytest.mark.parametrize(
    "words", [["plan"], ["plan", "x", "--sed", "3"], ["plan", "x", "--seed", "-1"], ["pln"]]
)
def test_wrong_usage_is_told(words: list[str]) -> None:
    result = handfast(*words)
    assert result.exit_code == 2
    assert "Traceback" not in result.output


def test_only_cells_that_exist(folder: Path) -> None:
    result = handfast("run", folder, "--cell", "real")
    assert result.exit_code == 2
    assert "expected one of: simulated" in result.stderr
