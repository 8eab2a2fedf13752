"""The ledger for a person: one mate in full, as JSON in its own units, and beside another ledger."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest
from tests.cli.test_commands import answer, handfast

Planned = tuple[Path, dict[str, Any]]


@pytest.mark.slow
def test_budget_as_json_speaks_the_units_of_error_budgets(planned: Planned) -> None:
    found = answer("budget", planned[0])
    names = [m["name"] for m in found["mates"]]
    assert names == ["pin-in-bore", "cover-on-block", "cover-screw"] == [r["mate"] for r in found["rows"]]
    pin, row = found["mates"][0], found["rows"][0]
    # 8 H7/g6: +5 to +29 um (ISO 286-1, 6 to 10 mm).
    assert pin["clearance_um"] == pytest.approx({"min": 5.0, "max": 29.0})
    assert pin["after_touches"]["sigma_mm"][0] == pytest.approx(1e3 * row["after"]["sigma_major"])
    assert pin["before_touches"]["sigma_mm"][0] > 2 * pin["after_touches"]["sigma_mm"][0]
    assert pin["allowed_deg"] == pytest.approx(math.degrees(row["allowed_angle"]))
    assert set(pin["probability"]) == {"low", "high", "model_dependent"}
    assert sum(c["share"] for c in pin["contributors"]) == pytest.approx(1.0)
    assert {"source", "share", "gained_if_halved"} <= set(pin["contributors"][0])
    assert pin["touches"] == row["touches"] != []
    assert found["chart_sha256"] == planned[1]["chart_sha256"]


@pytest.mark.slow
def test_one_mate_in_full(planned: Planned) -> None:
    shown = handfast("budget", planned[0], "--mate", "cover-screw")
    assert shown.exit_code == 1, "the screw does not meet the target"
    for words in (
        "the chain: where errors come in", "what the error is made of", "what is allowed",
        "touches: pin-in-bore/",
        "M4 point into cover.screw_hole", "slack of place stand.driver", "chance in builds that came as far",
    ):  # fmt: skip
        assert words in shown.stdout, words
    assert "pin-in-bore (" not in shown.stdout
    assert handfast("budget", planned[0], "--mate", "pin-in-bore").exit_code == 0
    assert [m["name"] for m in answer("budget", planned[0], "--mate", "pin-in-bore")["mates"]] == [
        "pin-in-bore"
    ]
    wrong = handfast("budget", planned[0], "--mate", "pin")
    assert wrong.exit_code == 2
    assert "there are: pin-in-bore, cover-on-block, cover-screw" in wrong.stderr


@pytest.mark.slow
def test_two_ledgers_side_by_side(planned: Planned) -> None:
    found = answer("what-if", planned[0], "--set", "stand.driver.slack=0.02 mm", "--set",
                   "cover.screw_hole.chamfer=0.3mm")  # fmt: skip
    now, then = ({m["name"]: m for m in found[side]["mates"]} for side in ("now", "then"))
    assert then["cover-screw"]["probability"]["low"] > now["cover-screw"]["probability"]["low"] + 0.05
    assert (
        then["cover-screw"]["after_touches"]["sigma_mm"][0]
        < now["cover-screw"]["after_touches"]["sigma_mm"][0]
    )
    assert now["pin-in-bore"]["probability"] == then["pin-in-bore"]["probability"]
    assert now["cover-screw"] == next(
        m for m in answer("budget", planned[0])["mates"] if m["name"] == "cover-screw"
    )
    camera = handfast("what-if", planned[0], "--set", "camera.position=0.3mm")
    assert camera.stdout.count(": no change") == 3, "no camera is asked in this chart"


@pytest.mark.slow
@pytest.mark.parametrize(
    ("change", "told"),
    [
        ("camera", "expected KEY=VALUE, such as"),
        ("right jaws.position=0.3", "expected a length with its unit"),
        ("right jaws.roll=1deg", "expected one of position, angle"),
        ("right jawz.position=1mm", "write 'right jaws'"),
        ("block.bor.chamfer=1mm", "write 'block.bore'"),
        ("stand.drive.slack=1mm", "write 'stand.driver'"),
        ("right jaws.x=-1mm", "expected a sigma of zero or more"),
    ],
)
def test_a_change_that_cannot_be_made_is_refused(planned: Planned, change: str, told: str) -> None:
    result = handfast("what-if", planned[0], "--set", change)
    assert result.exit_code == 2
    assert told in result.stderr
    assert result.stdout == ""
