"""Run logs line by line: whole, cut anywhere, changed anywhere."""

from __future__ import annotations

import json
import zlib
from pathlib import Path

import numpy as np
import pytest
from tests.model.any_record import any_of

from handfast.files.errors import NewerSchemaError, RecordError
from handfast.files.log_lines import LineWriter, as_line, read_lines
from handfast.files.run_log_file import LogHead, RunLogWriter, read_run_log
from handfast.model.run_log import LogLine, RunLog

HEAD = LogHead("first-fit", "ab" * 32, "simulated", 1, 7)


def log_of(count: int) -> RunLog:
    rng = np.random.default_rng(5)
    lines = tuple(any_of(LogLine, rng) for _ in range(count))
    return RunLog(HEAD.chart_sha256, "simulated", lines, "stopped", "put pin right", "missing part")


def written(path: Path, log: RunLog) -> bytes:
    lines = LineWriter(path)
    writer = RunLogWriter(lines, HEAD)
    for line in log.lines:
        writer.line(line)
    writer.end(log)
    lines.close()
    return path.read_bytes()


def test_a_log_reads_back_as_written(tmp_path: Path) -> None:
    log = log_of(40)
    written(tmp_path / "log", log)
    found = read_run_log(tmp_path / "log")
    assert (found.damage, found.head, found.log) == ("", HEAD, log)


def test_the_form_is_that_of_the_page(tmp_path: Path) -> None:
    """Read with nothing but JSON and CRC-32 (zlib, the reference implementation of ISO 3309's)."""
    for raw in written(tmp_path / "log", log_of(20)).splitlines():
        whole = json.loads(raw)
        assert list(whole) == ["length", "crc32", "line"]
        body = raw[47:-1]
        assert (len(body), f"{zlib.crc32(body):08x}") == (int(whole["length"]), whole["crc32"])
        assert json.loads(body) == whole["line"]
    # The check value of CRC-32: "123456789" -> cbf43926 (published catalogue value, from memory).
    assert zlib.crc32(b"123456789") == 0xCBF43926


def test_a_log_that_was_cut_is_read_up_to_there(tmp_path: Path) -> None:
    log = log_of(12)
    raw = written(tmp_path / "log", log)
    ends = [i for i, byte in enumerate(raw) if byte == 10]
    for cut in range(ends[0] + 1, len(raw) - 1, 7):
        (tmp_path / "cut").write_bytes(raw[:cut])
        found = read_run_log(tmp_path / "cut")
        whole = sum(end < cut or end == cut for end in ends) - 1  # without the head; a last line end may miss
        assert found.log.lines == log.lines[:whole]
        assert found.damage
        assert found.log.ended == "stopped"


def test_nothing_behind_a_changed_line_is_believed(tmp_path: Path) -> None:
    log = log_of(12)
    raw = written(tmp_path / "log", log)
    ends = [i for i, byte in enumerate(raw) if byte == 10]
    rng = np.random.default_rng(3)
    for at in rng.integers(ends[0] + 1, len(raw), 150):
        bad = bytearray(raw)
        bad[at] ^= 1 << int(rng.integers(8))
        (tmp_path / "bad").write_bytes(bytes(bad))
        found = read_run_log(tmp_path / "bad")
        changed = sum(end < at for end in ends) - 1  # which line behind the head it is in
        assert found.log.lines == log.lines[:changed]
        assert found.damage


def test_logs_that_cannot_be_used_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "log"
    for raw in (
        b"",
        b"\n",
        b"hello\n",
        as_line({"kind": "other"}),
        as_line({"kind": "run-log", "schema": 2}),
    ):
        path.write_bytes(raw)
        with pytest.raises(RecordError, match="log: expected"):
            read_run_log(path)
    path.write_bytes(as_line({"kind": "run-log", "schema": 99, "tool_version": "9.9"}))
    with pytest.raises(NewerSchemaError, match=r"version 9\.9"):
        read_run_log(path)
    with pytest.raises(RecordError):
        read_run_log(tmp_path / "none")
    path.write_bytes(as_line({"a": 1}) + b"\x00" * 100)
    assert read_lines(path).lines == ({"a": 1},)
