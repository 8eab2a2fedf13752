"""Spoilt inputs of every kind through all rules: a verdict, never a traceback, and no file is changed."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.files.first_fit_copy import ORIGINAL, copy_to, folder_sha256

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject

TEXTS = ("product.yaml", "cell.yaml", "errors.yaml", "arms/arm.urdf")
NUMBERS = ("0", "-1", "1e-30", "1e30", "1e308", "90", "0.5", "M4", "block", "")
SETTINGS = settings(
    max_examples=int(
        os.environ.get("HANDFAST_MUTATIONS", "20")
    ),  # of each of three kinds; `make verify`: 100
    derandomize=True,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return copy_to(tmp_path_factory.mktemp("mutated"))


def judge(folder: Path, file: str, data: bytes) -> None:
    (folder / file).write_bytes(data)
    try:
        before = folder_sha256(folder)
        verdict = check_folder(folder)
        assert folder_sha256(folder) == before
        if not isinstance(verdict, CheckedProject):
            assert any(f.severity == "error" for f in verdict)
            assert all(f.file and f.expected and f.found for f in verdict)
    finally:
        shutil.copyfile(ORIGINAL / file, folder / file)


@SETTINGS
@given(file=st.sampled_from(TEXTS), where=st.floats(0, 1), number=st.sampled_from(NUMBERS))
def test_words_replaced(folder: Path, file: str, where: float, number: str) -> None:
    words = (ORIGINAL / file).read_text().split(" ")
    full = [i for i, word in enumerate(words) if word]
    at = full[int(where * (len(full) - 1))]
    words[at] = number + words[at][len(words[at].rstrip(",]}\n")) :]
    judge(folder, file, " ".join(words).encode())


@SETTINGS
@given(
    where=st.floats(0, 1),
    junk=st.sampled_from(["", "0", "nan", "inf", "x", "<", "&", "1 2 3 4"]),
    cut=st.integers(0, 12),
)
def test_arm_spoilt(folder: Path, where: float, junk: str, cut: int) -> None:
    text = (ORIGINAL / "arms/arm.urdf").read_text()
    at = int(where * len(text))
    judge(folder, "arms/arm.urdf", (text[:at] + junk + text[at + cut :]).encode())


@SETTINGS
@given(where=st.floats(0, 1), junk=st.binary(min_size=1, max_size=60), cut=st.integers(0, 200))
def test_mesh_spoilt(folder: Path, where: float, junk: bytes, cut: int) -> None:
    data = (ORIGINAL / "meshes/pin.stl").read_bytes()
    at = int(where * len(data))
    judge(folder, "meshes/pin.stl", data[:at] + junk + data[at + max(cut, len(junk)) :])
    judge(folder, "meshes/pin.stl", data[:at] + junk + data[at + len(junk) :])
