"""300 spoilt projects through check; of those, some with a number a little off through plan and verify too.

Each ends with findings that say where, or with a plan that holds, or with reasons why there is none: never
with a traceback, and no file is changed. tests/verification/mutated_plans.py plans more of them.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from tests.files.first_fit_copy import ORIGINAL, copy_to, folder_sha256

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.model.chart import Chart
from handfast.workflow import plan, verify

pytestmark = pytest.mark.slow
PLANNED = 8
YAMLS = ("project.yaml", "product.yaml", "cell.yaml", "errors.yaml")
FILES = (*YAMLS, "arms/arm.urdf", "meshes/pin.stl", "meshes/tray.stl")
NUMBER = re.compile(rb"-?\d+\.?\d*(?= (mm|deg|g|N|%))")


def searched(count: int) -> settings:
    return settings(
        max_examples=count,
        derandomize=True,
        deadline=None,
        phases=(Phase.explicit, Phase.generate),  # to shrink an example that is planned takes many minutes
        suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
    )


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    whole = copy_to(tmp_path_factory.mktemp("mutated"))
    sound = folder_sha256(whole)
    yield whole
    assert folder_sha256(whole) == sound  # each example was put right again


def judge(folder: Path, file: str, data: bytes, planned: bool = False) -> str:
    """How it ended: "findings", "checked", "planned and proved" or "no plan"."""
    (folder / file).write_bytes(data)
    try:
        before = folder_sha256(folder)
        verdict = check_folder(folder)
        ended = "findings"
        if isinstance(verdict, CheckedProject):
            ended = must_plan_or_say_why(verdict) if planned else "checked"
        else:
            errors = [f for f in verdict if f.severity == "error"]
            assert errors
            assert all(f.file in YAMLS and f.expected and f.found for f in errors)
            assert all(f.line > 0 and f.column > 0 for f in errors if f.rule != "file-missing")
        assert folder_sha256(folder) == before
        return ended
    finally:
        shutil.copyfile(ORIGINAL / file, folder / file)


def must_plan_or_say_why(checked: CheckedProject) -> str:
    found = plan(checked, seed=3)
    if isinstance(found.body, Chart):
        assert len(found.body.mates) == len(checked.project.product.mates)
        assert verify(checked.project, found).body.violations == ()
        return "planned and proved"
    assert found.body.causes
    assert all(cause.count > 0 for cause in found.body.causes)
    return "no plan"


@searched(100)
@given(
    file=st.sampled_from(FILES),
    where=st.floats(0, 1),
    junk=st.binary(min_size=0, max_size=12),
    cut=st.integers(0, 60),
)
def test_100_files_with_bytes_overwritten(
    folder: Path, file: str, where: float, junk: bytes, cut: int
) -> None:
    data = (ORIGINAL / file).read_bytes()
    at = int(where * len(data))
    judge(folder, file, data[:at] + junk + data[at + cut :])


@searched(100)
@given(
    file=st.sampled_from(YAMLS),
    first=st.floats(0, 1),
    second=st.floats(0, 1),
    how=st.sampled_from(["exchange", "drop", "double", "indent", "comment"]),
)
def test_100_files_with_lines_spoilt(folder: Path, file: str, first: float, second: float, how: str) -> None:
    lines = (ORIGINAL / file).read_bytes().splitlines(keepends=True)
    a, b = (int(share * (len(lines) - 1)) for share in (first, second))
    if how == "exchange":
        lines[a], lines[b] = lines[b], lines[a]
    elif how == "drop":
        del lines[a]
    elif how == "double":
        lines.insert(b, lines[a])
    else:
        lines[a] = (b"  " if how == "indent" else b"# ") + lines[a]
    judge(folder, file, b"".join(lines))


@searched(92)
@given(
    file=st.sampled_from(YAMLS),
    pick=st.floats(0, 1),
    value=st.sampled_from(["0", "-1", "1e9", "1e-9", "x", "nan", ""]),
)
def test_92_files_with_a_number_replaced(folder: Path, file: str, pick: float, value: str) -> None:
    judge(folder, file, replaced(file, pick, value.encode()))


@pytest.mark.parametrize("seed", range(PLANNED))
def test_a_number_a_little_off_is_planned(folder: Path, seed: int) -> None:
    judge(folder, *nudged(seed), planned=True)


def nudged(seed: int) -> tuple[str, bytes]:
    """A file of the example and its bytes with one number a little off."""
    rng = np.random.default_rng(seed)
    file = str(rng.choice(["product.yaml", "cell.yaml", "errors.yaml"]))
    pick, factor = float(rng.random()), float(rng.choice([0.9, 0.98, 1.02, 1.1]))
    data = (ORIGINAL / file).read_bytes()
    match = numbers(data)[int(pick * (len(numbers(data)) - 1))]
    return file, replaced(file, pick, f"{float(match[0]) * factor:.6g}".encode())


def numbers(data: bytes) -> list[re.Match[bytes]]:
    return list(NUMBER.finditer(data))


def replaced(file: str, pick: float, value: bytes) -> bytes:
    data = (ORIGINAL / file).read_bytes()
    found = numbers(data) or list(re.finditer(rb"\d+", data))
    match = found[int(pick * (len(found) - 1))]
    return data[: match.start()] + value + data[match.end() :]
