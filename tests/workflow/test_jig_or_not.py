"""Jig or no jig, against sums done by hand."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from tests.cli.test_commands import FIRST_FIT
from tests.uncertainty import first_fit_chart as c

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.cli.jig_text import jig_json, jig_lines
from handfast.model.chart import Chart
from handfast.model.economy import Economy
from handfast.model.ledger import Band, Ledger
from handfast.model.part import Part
from handfast.model.project import Project
from handfast.model.strategy import Press
from handfast.uncertainty.budget import budget
from handfast.workflow.jig_or_not import JigRow, fixtures, jig_or_not

# An hour costs 3600, so a second costs one.
MONEY = Economy(
    builds=1000, hour=3600, stop=100, jig=4000, change=500, changes=2, jig_seconds=3, written=("builds",)
)
LEDGER = budget(c.PROJECT, c.chart(), "sha", c.hand_poses(c.chart()))


def only(mate: str, ledger: Ledger = LEDGER, chart: Chart | None = None, money: Economy = MONEY) -> JigRow:
    rows = jig_or_not(replace(c.PROJECT, economy=money), chart or c.chart(), ledger)
    return next(r for r in rows if r.mate == mate)


def with_chances(mate: str, now: float, in_jig: float) -> Ledger:
    bands = {"probability": Band(now, 1.0), "probability_in_jig": Band(in_jig, 1.0)}
    return replace(LEDGER, rows=tuple(replace(r, **bands) if r.mate == mate else r for r in LEDGER.rows))  # type: ignore[arg-type]


def test_what_a_good_build_costs_either_way() -> None:
    """The pin: nine elements of a second, one of them a touch; 0.8 of all go in, 0.96 in a jig."""
    found = only("pin-in-bore", with_chances("pin-in-bore", 0.8, 0.96))
    assert (found.without.seconds, found.jig.seconds) == (9.0, 9.0 - 1.0 + 3.0)
    # (9 + 0.2 * 100)/0.8 = 36.25; (11 + 0.04 * 100)/0.96 = 15.625, and 5000 for the jig over 1000 builds.
    assert found.without.cost == pytest.approx(36.25)
    assert found.jig.cost == pytest.approx(15.625 + 5.0)
    assert found.jig_is_cheaper
    # 5000/(36.25 - 15.625)
    assert found.breaks_even == pytest.approx(242.42, abs=0.01)


def test_below_the_number_at_which_both_cost_the_same_there_is_no_jig() -> None:
    ledger = with_chances("pin-in-bore", 0.8, 0.96)
    for builds, cheaper in ((243, True), (242, False)):
        assert only("pin-in-bore", ledger, money=replace(MONEY, builds=builds)).jig_is_cheaper == cheaper


def test_a_strategy_and_the_way_from_a_touch_are_spared() -> None:
    elements = list(c.chart().elements)
    at = next(i for i, e in enumerate(elements) if e.kind == "locate")
    elements.insert(at + 1, replace(elements[at], id="on", kind="move", touch=None, duration_s=0.25))
    home = next(i for i, e in enumerate(elements) if e.kind == "assemble")
    elements[home] = replace(elements[home], strategy=Press(10.0, 0.01, 0.005))  # 5 mm at 10 mm/s
    found = only("pin-in-bore", chart=replace(c.chart(), elements=tuple(elements)))
    assert found.without.seconds == 9.25
    assert found.jig.seconds == pytest.approx(9.25 - 1.0 - 0.25 - 0.5 + 3.0)


def test_where_nothing_is_sure_there_is_no_cost() -> None:
    lost = only("pin-in-bore", with_chances("pin-in-bore", 0.0, 0.9))
    assert (lost.without.cost, lost.jig_is_cheaper, lost.breaks_even) == (None, True, None)
    neither = only("pin-in-bore", with_chances("pin-in-bore", 0.0, 0.0))
    assert not neither.jig_is_cheaper
    assert "none good" in "\n".join(jig_lines((lost,), MONEY, ()))
    assert jig_json((lost,), MONEY, ())["mates"][0]["without"]["cost_per_good_build"] is None


def test_a_jig_takes_away_what_the_cell_errs_and_nothing_of_what_the_parts_err() -> None:
    def in_jig(project: Project) -> dict[str, float]:
        found = budget(project, c.chart(), "sha", c.hand_poses(c.chart()))
        return {r.mate: r.probability_in_jig.low for r in found.rows}

    now = in_jig(c.PROJECT)
    cell = tuple(
        replace(s, sigma=tuple(5 * v for v in s.sigma)) if not s.acts_on.startswith("feature.") else s  # type: ignore[arg-type]
        for s in c.PROJECT.errors
    )
    assert in_jig(replace(c.PROJECT, errors=cell)) == pytest.approx(now, abs=1e-3)

    def drawn_off(part: Part) -> Part:
        worse = {"screw_hole": 1.2e-3}
        features = (
            replace(f, position_tolerance=worse.get(f.name, f.position_tolerance)) for f in part.features
        )
        return replace(part, features=tuple(features))

    product = replace(c.PROJECT.product, parts=tuple(map(drawn_off, c.PROJECT.product.parts)))
    wide = in_jig(replace(c.PROJECT, product=product))
    assert wide["cover-screw"] < now["cover-screw"] - 0.02
    assert wide["pin-in-bore"] == now["pin-in-bore"]


def test_holders_that_are_made_for_the_product_are_fixtures() -> None:
    assert fixtures(c.PROJECT) == ("nest (nest)", "presenter (presenter)", "tray (tray)")
    assert "stand" in {h.name for h in c.PROJECT.cell.holders}


def test_what_the_project_writes_is_used_and_the_rest_called_assumed(tmp_path: Path) -> None:
    where = tmp_path / "first-fit"
    shutil.copytree(FIRST_FIT, where, ignore=shutil.ignore_patterns("records"))
    text = (where / "project.yaml").read_text()
    (where / "project.yaml").write_text(f"{text}economy: {{builds: 300, hour: 90}}\n")
    checked = check_folder(where)
    assert isinstance(checked, CheckedProject), checked
    money = checked.project.economy
    assert (money.builds, money.hour, money.written) == (300, 90, ("builds", "hour"))
    told = jig_json((), money, ())
    assert json.loads(json.dumps(told))["economy"]["assumed"] == [
        "stop", "jig", "weeks", "change", "changes", "jig_seconds"
    ]  # fmt: skip
    assert "assumed, write yours under `economy` in project.yaml: stop, jig" in "\n".join(
        jig_lines((), money, ())
    )


@pytest.mark.parametrize("line", ["builds: 0", "hour: -1", "jig: 20 EUR", "jigs: 3"])
def test_costs_that_cannot_be_are_refused(tmp_path: Path, line: str) -> None:
    where = tmp_path / "first-fit"
    shutil.copytree(FIRST_FIT, where, ignore=shutil.ignore_patterns("records"))
    text = (where / "project.yaml").read_text()
    (where / "project.yaml").write_text(f"{text}economy: {{{line}}}\n")
    findings = check_folder(where)
    assert not isinstance(findings, CheckedProject)
    (found,) = findings
    assert "project.yaml" in str(found)
    assert line.split(":")[0] in str(found)
