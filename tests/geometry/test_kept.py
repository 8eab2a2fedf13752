"""What is kept on disk of a mesh: the same as worked out, by what the mesh is, and never half."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from handfast.geometry.kept import kept, worked_anew

GIVEN = (np.arange(6.0).reshape(2, 3), np.array([[0, 1, 1]]))


def counted(calls: list[int]) -> np.ndarray:
    calls.append(1)
    return np.array([[1.0, 2.0], [3.0, 4.5]])


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("HANDFAST_CACHE", str(tmp_path / "cache"))
    return tmp_path / "cache"


def test_worked_out_once_and_read_back_to_the_last_bit(folder: Path) -> None:
    calls: list[int] = []
    first, again = (kept("boxes", GIVEN, lambda: counted(calls)) for _ in range(2))
    assert len(calls) == 1
    assert np.array_equal(first, again)
    assert len(list(folder.iterdir())) == 1  # nothing half written beside it


def test_another_mesh_and_another_work_are_worked_out_anew(folder: Path) -> None:
    calls: list[int] = []
    kept("boxes", GIVEN, lambda: counted(calls))
    moved = (GIVEN[0] + [0.0, 0.0, 1e-12], GIVEN[1])
    kept("boxes", moved, lambda: counted(calls))
    kept("spheres", GIVEN, lambda: counted(calls))
    assert len(calls) == 3


def test_what_is_damaged_is_worked_out_anew(folder: Path) -> None:
    calls: list[int] = []
    kept("boxes", GIVEN, lambda: counted(calls))
    next(folder.iterdir()).write_bytes(b"\x93NUMPY")
    assert np.array_equal(kept("boxes", GIVEN, lambda: counted(calls)), counted([]))
    assert len(calls) == 2


def test_where_nothing_can_be_kept_it_is_worked_out_every_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "file"
    file.write_text("no folder")
    monkeypatch.setenv("HANDFAST_CACHE", str(file))
    calls: list[int] = []
    for _ in range(2):
        kept("boxes", GIVEN, lambda: counted(calls))
    assert len(calls) == 2


def test_anew_neither_reads_nor_keeps(folder: Path) -> None:
    calls: list[int] = []
    with worked_anew(True):
        kept("boxes", GIVEN, lambda: counted(calls))
    assert not folder.exists()
    kept("boxes", GIVEN, lambda: counted(calls))
    with worked_anew(True):
        kept("boxes", GIVEN, lambda: counted(calls))
    with worked_anew(False):
        kept("boxes", GIVEN, lambda: counted(calls))
    assert len(calls) == 3
