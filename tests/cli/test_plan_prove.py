"""plan --prove: one start, both records, and the exit code of the proof."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from tests.cli.test_commands import FIRST_FIT, answer, handfast

from handfast.files.record_json import load, sha256
from handfast.model.chart import Chart
from handfast.model.proof import Proof
from handfast.workflow.make_chart import choices


@pytest.fixture
def project(tmp_path: Path) -> Path:
    where = tmp_path / "first-fit"
    return Path(shutil.copytree(FIRST_FIT, where, ignore=shutil.ignore_patterns("records")))


def test_both_records_are_what_plan_and_verify_write(project: Path) -> None:
    result = handfast("plan", project, "--seed", "7", "--prove")
    assert result.exit_code == 0
    assert "The chart holds" in result.stdout
    assert "handfast verify" not in result.stdout  # there is nothing left to verify
    written = {name: (project / "records" / f"{name}.json").read_text() for name in ("chart", "proof")}
    chart = load(project / "records" / "chart.json", Chart)
    proof = load(project / "records" / "proof.json", Proof)
    assert proof.body.chart_sha256 == sha256(chart)
    assert answer("verify", project)["proof_sha256"] == sha256(proof)
    assert all(f"{name}.json" in result.stdout for name in written)


def test_the_answer_as_json_holds_that_of_verify(project: Path) -> None:
    found = answer("plan", project, "--seed", "7", "--prove")
    alone = answer("verify", project)
    assert found["planned"]
    assert found["proof"]["holds"]
    assert found["proof"] == {name: alone[name] for name in found["proof"]}
    assert set(found["run_info"]) == {"planning_s", "verifying_s"}


def test_without_it_nothing_is_proven(project: Path) -> None:
    assert "proof" not in answer("plan", project, "--seed", "7")
    assert not (project / "records" / "proof.json").exists()


def test_a_proof_that_does_not_hold_is_a_no(project: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def spoilt(*args: Any, **kwargs: Any) -> Any:
        found = choices(*args, **kwargs)
        assert isinstance(found, tuple)
        record = found[0].chart
        less = replace(record.body, elements=record.body.elements[1:])
        return (replace(found[0], chart=replace(record, body=less)),)

    monkeypatch.setattr("handfast.cli.do_plan.choices", spoilt)
    result = handfast("plan", project, "--seed", "7", "--prove")
    assert result.exit_code == 1
    assert "The chart does not hold" in result.stdout
    assert (project / "records" / "chart.json").is_file()


@pytest.mark.parametrize("other", [("--target", "99.5%"), ("--only", "lid")])
def test_it_is_refused_where_something_else_proves(project: Path, other: tuple[str, str]) -> None:
    result = handfast("plan", project, "--prove", *other)
    assert (result.exit_code, "handfast verify" in result.stderr) == (2, True)
