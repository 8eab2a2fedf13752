"""The numbers that docs/ledger.md explains are those of the demo's ledger."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from tests.cli.test_commands import answer

PAGE = (Path(__file__).parents[2] / "docs" / "ledger.md").read_text(encoding="utf-8")


@pytest.mark.slow
def test_the_rows_of_the_page_are_the_demo_s(planned: tuple[Path, dict[str, Any]]) -> None:
    """Within a few per cent: how the planner routes a hand moves them a little."""
    found = {m["name"]: m for m in answer("budget", planned[0])["mates"]}
    rows = re.findall(
        r"^\| ([\w-]+) \| (\d+) µm \| (\d+) µm \| (\d+) µm \| .*? \| ([\d.]+) % \|$", PAGE, re.M
    )
    assert [name for name, *_ in rows] == list(found)
    for name, before, after, allowed, untouched in rows:
        mate = found[name]
        assert 1e3 * mate["before_touches"]["sigma_mm"][0] == pytest.approx(float(before), rel=0.05)
        assert 1e3 * mate["after_touches"]["sigma_mm"][0] == pytest.approx(float(after), rel=0.05)
        assert 1e3 * mate["allowed_mm"] == pytest.approx(float(allowed), rel=0.02)
        assert 100 * mate["probability_untouched"]["low"] == pytest.approx(float(untouched), abs=2)
    screw = found["cover-screw"]
    (share,) = re.findall(r"^ +([\d.]+) % +114 µm  slack of place stand.driver", PAGE, re.M)
    told = next(c for c in screw["contributors"] if c["source"] == "slack of place stand.driver")
    assert 100 * told["share"] == pytest.approx(float(share), abs=3)
    assert 100 * screw["probability"]["low"] == pytest.approx(87.7, abs=2)
    assert 100 * screw["in_order_untouched"]["low"] == pytest.approx(58.0, abs=3)
