from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from handfast import _kernel

ROOT = Path(__file__).parents[2]

Answers = dict[str, dict[str, NDArray[Any]]]  # by level, by name


def run_at(level: str, *args: str) -> subprocess.CompletedProcess[str]:
    paths = [str(ROOT), *(p for p in sys.path if p)]
    env = {**os.environ, "HANDFAST_KERNEL_LEVEL": level, "PYTHONPATH": os.pathsep.join(paths)}
    return subprocess.run([sys.executable, *args], env=env, capture_output=True, text=True, check=False)


@pytest.fixture(scope="module")
def answers(tmp_path_factory: pytest.TempPathFactory) -> Answers:
    out: Answers = {}
    for level in _kernel.levels():
        file = tmp_path_factory.mktemp("levels") / f"{level}.npz"
        done = run_at(level, "-m", "tests.kernel.answers", str(file))
        assert done.returncode == 0, done.stderr
        with np.load(file) as data:
            out[level] = dict(data)
    return out


def test_each_level_is_the_one_asked_for(answers: Answers) -> None:
    assert {level: str(a["level"]) for level, a in answers.items()} == {n: n for n in _kernel.levels()}
    assert _kernel.levels()[0] == "baseline"


def test_every_level_gives_the_same_answers_to_the_last_bit(answers: Answers) -> None:
    baseline = answers["baseline"]
    assert sum(name.startswith("path") for name in baseline) >= 5
    assert baseline["free"].any()
    assert not baseline["free"].all()
    assert baseline["edges"].any()
    assert not baseline["edges"].all()
    for level, found in answers.items():
        assert found.keys() == baseline.keys()
        for name in baseline.keys() - {"level"}:
            assert found[name].tobytes() == baseline[name].tobytes(), f"{name} differs at {level}"


def test_a_level_that_does_not_exist_is_refused_at_import() -> None:
    done = run_at("sse9", "-c", "from handfast import _kernel")
    assert done.returncode != 0
    assert "HANDFAST_KERNEL_LEVEL is 'sse9'; this machine has: baseline" in done.stderr


def test_the_units_that_exist_per_level_share_no_standard_header() -> None:
    # A template of the standard library instantiated at AVX-512 would be merged with the baseline's copy.
    kernel = ROOT / "kernel"
    units = sorted(kernel.glob("level_*.cpp")) + sorted(kernel.glob("*.inc")) + [kernel / "tables.h"]
    includes = {
        line.split()[1]
        for unit in units
        for line in unit.read_text().splitlines()
        if line.startswith("#include <")
    }
    assert includes == {"<stddef.h>", "<stdint.h>", "<immintrin.h>"}
