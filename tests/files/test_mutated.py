"""Spoilt project files: a located finding or a good project, never a traceback, and no file is changed."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.files.first_fit_copy import ORIGINAL, copy_to, folder_sha256

from handfast.files.project_reader import read_project

FILES = ("project.yaml", "product.yaml", "cell.yaml", "errors.yaml")
TOKENS = (
    *("{", "}", "[", "]", ":", "- ", "#", "&a ", "*a", "<<: ", "!!int ", "|\n", "? "),
    *("'", '"', "\t", "null", ".inf", "~"),
    *("é", "\x00", "\ufeff", "%", "@", "1e400 mm", "--- ", "...", "8" * 400),
)
SETTINGS = settings(
    max_examples=40,
    derandomize=True,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return copy_to(tmp_path_factory.mktemp("mutated"))


def judge(folder: Path, file: str, data: bytes) -> None:
    shutil.copyfile(ORIGINAL / file, folder / file)
    (folder / file).write_bytes(data)
    try:
        before = folder_sha256(folder)
        project, findings = read_project(folder)
        assert folder_sha256(folder) == before
        errors = [f for f in findings if f.severity == "error"]
        assert (project is None) == bool(errors)
        assert all(f.file in FILES and f.expected and f.found for f in errors)
        assert all(f.line > 0 and f.column > 0 for f in errors if f.rule != "file-missing")
    finally:
        shutil.copyfile(ORIGINAL / file, folder / file)


@SETTINGS
@given(
    file=st.sampled_from(FILES),
    where=st.floats(0, 1),
    junk=st.binary(min_size=1, max_size=6),
    cut=st.integers(0, 30),
)
def test_bytes_overwritten(folder: Path, file: str, where: float, junk: bytes, cut: int) -> None:
    data = (ORIGINAL / file).read_bytes()
    at = int(where * len(data))
    judge(folder, file, data[:at] + junk + data[at + cut :])


@SETTINGS
@given(file=st.sampled_from(FILES), where=st.floats(0, 1), token=st.sampled_from(TOKENS))
def test_tokens_put_in(folder: Path, file: str, where: float, token: str) -> None:
    text = (ORIGINAL / file).read_text()
    at = int(where * len(text))
    judge(folder, file, (text[:at] + token + text[at:]).encode())


@SETTINGS
@given(file=st.sampled_from(FILES), first=st.floats(0, 1), second=st.floats(0, 1), twice=st.booleans())
def test_lines_moved_or_doubled(folder: Path, file: str, first: float, second: float, twice: bool) -> None:
    lines = (ORIGINAL / file).read_text().splitlines(keepends=True)
    taken = int(first * (len(lines) - 1))
    line = lines[taken] if twice else lines.pop(taken)
    lines.insert(int(second * len(lines)), line)
    judge(folder, file, "".join(lines).encode())


@SETTINGS
@given(file=st.sampled_from(FILES), words=st.lists(st.floats(0, 1), min_size=2, max_size=2))
def test_words_exchanged(folder: Path, file: str, words: list[float]) -> None:
    text = (ORIGINAL / file).read_text().split(" ")
    a, b = (int(w * (len(text) - 1)) for w in words)
    text[a], text[b] = text[b], text[a]
    judge(folder, file, " ".join(text).encode())
