"""The whole thread on first-fit: plan, verify, budget, try, run, show, draw."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path
from typing import Any

import pytest
from tests.cli.test_commands import FIRST_FIT, answer, handfast

from handfast.cli import do_report

pytestmark = pytest.mark.slow


def test_plan_answers_with_the_chart(planned: tuple[Path, dict[str, Any]]) -> None:
    folder, found = planned
    assert found["planned"] is True
    assert found["mates"] == {"planned": 3, "of": 3}
    assert found["seed"] == 7
    assert found["run_info"]["planning_s"] > 0
    assert re.fullmatch(r"[0-9a-f]{64}", found["chart_sha256"])
    elements = found["elements"]
    assert [e["number"] for e in elements] == list(range(1, len(elements) + 1))
    assert {"id", "number", "hand", "kind", "object", "start_s", "duration_s"} <= set(elements[0])
    ends = [e["start_s"] + e["duration_s"] for e in elements]
    assert found["makespan_s"] == pytest.approx(max(ends))
    assert 0 < found["lower_bound_s"] <= found["makespan_s"]
    saved = json.loads((folder / "records" / "chart.json").read_text())
    assert saved["sha256"] == found["chart_sha256"]


def test_the_process_is_the_one_the_product_needs(planned: tuple[Path, dict[str, Any]]) -> None:
    """A handover, a touch, a hold while the screw goes in, and the tool back in its stand."""
    elements = planned[1]["elements"]
    taken_over = [e for e in elements if e["kind"] == "grasp" and e["target"].startswith("hand.")]
    assert [e["object"] for e in taken_over] == ["pin"]
    assert [e["target"] for e in elements if e["kind"] == "locate"] == ["block.end"]
    driven = [e for e in elements if e["kind"] == "use"][-1]
    held = [e for e in elements if e["kind"] == "hold" and e["object"] == "cover"]
    assert any(
        h["start_s"] <= driven["start_s"]
        and driven["start_s"] + driven["duration_s"] <= h["start_s"] + h["duration_s"] + 1e-9
        for h in held
    )
    assert elements[-1]["start_s"] > driven["start_s"]


def test_verify_answers_with_the_proof(planned: tuple[Path, dict[str, Any]]) -> None:
    folder, chart = planned
    found = answer("verify", folder)
    assert found["holds"] is True, found["violations"]
    assert found["collisions"] == found["limit_violations"] == 0
    assert found["smallest_clearance_m"] > 0
    assert found["chart_sha256"] == chart["chart_sha256"]
    reasons = {frozenset(c["pair"]): c["reason"] for c in found["contacts"]}
    assert reasons[frozenset(("block", "pin"))] in ("mate", "touch")
    assert all(c["duration_s"] >= 0 for c in found["contacts"])
    told = handfast("verify", folder)
    assert told.exit_code == 0
    assert "\n0 collisions; smallest clearance " in told.stdout
    assert "proving: quarters of the chart (2 of 4)" in told.stderr


def test_a_planted_collision_is_a_no(planned: tuple[Path, dict[str, Any]], tmp_path: Path) -> None:
    """Every reach of the left hand is bent through the table, and the record is signed anew."""
    from dataclasses import replace

    from handfast.files.record_json import load, save
    from handfast.model.chart import Chart

    folder = Path(shutil.copytree(planned[0], tmp_path / "bent"))
    path = folder / "records" / "chart.json"
    chart = load(path, Chart)
    first = next(e for e in chart.body.elements if e.kind == "reach" and e.hand == "left")
    motion = first.motions[0]
    middle = len(motion.q) // 2
    into = (0.0, 1.2, 0.0, 0.0, 0.0, 0.0)
    there = tuple(x + d for x, d in zip(motion.q[middle], into, strict=True))
    bent = (*motion.q[:middle], there, *motion.q[middle + 1 :])
    wrong = replace(first, motions=(replace(motion, q=bent), *first.motions[1:]))
    elements = tuple(wrong if e.number == first.number else e for e in chart.body.elements)
    save(replace(chart, body=replace(chart.body, elements=elements)), path)
    result = handfast("verify", folder)
    assert result.exit_code == 1
    assert "does not hold" in result.stdout
    assert f"element {first.number} " in result.stdout
    assert re.search(r"^[1-9]\d* collisions?; smallest clearance ", result.stdout, re.MULTILINE)


def test_budget_answers_with_a_row_per_mate(planned: tuple[Path, dict[str, Any]]) -> None:
    found = answer("budget", planned[0])
    assert [r["mate"] for r in found["rows"]] == ["pin-in-bore", "cover-on-block", "cover-screw"]
    pin = found["rows"][0]
    assert pin["after"]["sigma_major"] < pin["before"]["sigma_major"]
    assert pin["probability"]["low"] > pin["probability_untouched"]["high"]
    assert found["met"] == all(r["probability"]["low"] >= found["target"] for r in found["rows"])
    assert handfast("budget", planned[0]).exit_code == (0 if found["met"] else 1)


def test_trial_and_run(planned: tuple[Path, dict[str, Any]]) -> None:
    folder = planned[0]
    found = answer("trial", folder, "--builds", "2", "--seed", "7")
    assert found["builds"] == 2
    assert [m["mate"] for m in found["mates"]] == ["pin-in-bore", "cover-on-block", "cover-screw"]
    assert found["counts"][0]["tried"] + found["counts"][0]["invalid"] == 2
    result = handfast("run", folder, "--seed", "7")
    assert result.exit_code in (0, 1)
    assert "locate" in result.stdout
    assert ("done after" in result.stdout) == (result.exit_code == 0)


def test_show_and_page(planned: tuple[Path, dict[str, Any]], tmp_path: Path) -> None:
    folder, chart = planned
    shown = handfast("show", folder)
    assert shown.exit_code == 0
    assert chart["chart_sha256"][:12] in shown.stdout
    assert max(len(line) for line in shown.stdout.splitlines()) <= 100
    out = tmp_path / "deep" / "page.html"
    assert handfast("page", folder, "--out", out).exit_code == 0
    assert len(re.findall(r'id="element-\d+"', out.read_text())) == len(chart["elements"])


def test_report_and_export(planned: tuple[Path, dict[str, Any]], tmp_path: Path) -> None:
    folder, chart = planned
    found = answer("export", folder, "--out", tmp_path / "x")["files"]
    assert all((tmp_path / "x").joinpath(f["file"]).stat().st_size == f["bytes"] for f in found)
    names = {Path(f["file"]).name for f in found}
    assert {"joint-paths.csv", "joint-paths.json", "cell.glb", "chart.csv", "hand-utilisation.svg"} <= names
    assert handfast("report", folder, "--out", tmp_path, "--no-pdf").exit_code == 0
    text = (tmp_path / "first-fit-report.html").read_text()
    assert len(re.findall(r'id="element-\d+"', text)) == len(chart["elements"])
    assert not (tmp_path / "first-fit-report.pdf").exists()


def test_without_the_extra_it_says_what_brings_it(
    planned: tuple[Path, dict[str, Any]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(do_report, "find_spec", lambda _name: None)
    for verb, way in (("report", "--no-pdf"), ("export", "--no-figures")):
        result = handfast(verb, planned[0])
        assert result.exit_code == 2
        assert "handfast[report]" in result.stderr
        assert way in result.stderr


def test_equal_seeds_give_equal_records(planned: tuple[Path, dict[str, Any]], tmp_path: Path) -> None:
    again = tmp_path / "again"
    shutil.copytree(FIRST_FIT, again, ignore=shutil.ignore_patterns("records"))
    assert answer("plan", again, "--seed", "7")["chart_sha256"] == planned[1]["chart_sha256"]
    one, other = (answer("budget", f)["ledger_sha256"] for f in (planned[0], again))
    assert one == other
    tried = [answer("trial", f, "--builds", "1", "--seed", "3")["trial_sha256"] for f in (planned[0], again)]
    assert tried[0] == tried[1]


def test_a_chart_of_older_files_is_not_budgeted(planned: tuple[Path, dict[str, Any]], tmp_path: Path) -> None:
    folder = Path(shutil.copytree(planned[0], tmp_path / "edited"))
    errors = folder / "errors.yaml"
    errors.write_text(errors.read_text().replace("0.35 mm", "0.36 mm"))
    result = handfast("budget", folder)
    assert result.exit_code == 2
    assert "changes since in: errors.yaml" in result.stderr
    errors.write_text("# a comment changes nothing\n" + (FIRST_FIT / "errors.yaml").read_text())
    assert handfast("budget", folder).exit_code in (0, 1)
