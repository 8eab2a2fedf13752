"""A bad part goes to the reject place and the next of its kind is taken, as the chart declares it."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import pytest
from tests.proof.chart_by_hand import FOLDER
from tests.workflow.planted_faults import Fault, FaultyCell, bad

from handfast.checking.checked_project import CheckedProject
from handfast.execution.anew import Anew, NoWayAnewError, Stands
from handfast.execution.executor import execute
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.model.record import Record
from handfast.model.run_log import RunLog
from handfast.workflow.make_chart import is_chart, plan
from handfast.workflow.make_ledger import budget
from handfast.workflow.make_trial import How, trial
from handfast.workflow.read_project import check, load
from handfast.workflow.run_chart import run

BIN = """  bin:
    kind: reject
    at: {position: [0 mm, 640 mm, 0 mm]}
    solids:
      - {box: [120 mm, 80 mm, 20 mm], at: {position: [0 mm, 0 mm, 10 mm]}}
    places:
      opening: {at: {position: [0 mm, 0 mm, 60 mm]}, slack: 30 mm}
"""
OVERSIZE_PIN = Fault(sizes={"pin.tip": 8.04e-3})
UNDERSIZE_BORE = Fault(sizes={"cover.pin_hole": 7.9e-3})
pytestmark = pytest.mark.slow


@dataclass(frozen=True)
class Ready:
    checked: CheckedProject
    chart: Record[Chart]
    ledger: Record[Ledger]

    def run(self, cell: FaultyCell) -> RunLog:
        return run(self.checked, self.chart, self.ledger, cell).body


def stocked(folder: Path, *, bin_there: bool) -> Ready:
    """First-fit with two pins and two covers in stock, with and without a bin."""
    shutil.copytree(FOLDER, folder, ignore=shutil.ignore_patterns("records"))
    cell = (folder / "cell.yaml").read_text()
    for part in ("pin", "cover"):
        assert cell.count(f"holds: {part},") == 1
        cell = cell.replace(f"holds: {part},", f"holds: {part}, stock: 2,")
    if bin_there:
        cell = cell.replace("\nobstacles:\n", f"{BIN}\nobstacles:\n")
    (folder / "cell.yaml").write_text(cell)
    checked = check(load(folder))
    chart = plan(checked, seed=7)
    assert is_chart(chart)
    return Ready(checked, chart, budget(checked, chart))


@pytest.fixture(scope="module")
def ready(tmp_path_factory: pytest.TempPathFactory) -> Ready:
    return stocked(tmp_path_factory.mktemp("stock") / "first-fit", bin_there=True)


def does(log: RunLog) -> list[str]:
    return [ln.text.partition(",")[0] for ln in log.lines if ln.event == "recovery" and ln.cause]


def cell_of(ready: Ready, fault: Fault) -> FaultyCell:
    return FaultyCell(ready.checked.project, ready.chart.body, fault, seed=3)


@pytest.mark.parametrize(("fault", "part"), [(OVERSIZE_PIN, "pin"), (UNDERSIZE_BORE, "cover")])
def test_the_bad_one_goes_to_the_bin_and_the_next_is_taken(ready: Ready, fault: Fault, part: str) -> None:
    cell = cell_of(ready, fault)
    log = ready.run(cell)
    assert (log.ended, log.reason) == ("done", "")
    assert does(log)[-1] == "reject"
    assert any(ln.text == f"{part} is at bin.opening; the next one is taken" for ln in log.lines)
    assert bad(cell, ready.checked.project) == []


def test_a_part_that_keeps_failing_stops_the_run_when_there_is_no_other(ready: Ready) -> None:
    """The bore of the block is too small: no pin goes in."""
    log = ready.run(cell_of(ready, Fault(sizes={"block.bore": 7.9e-3})))
    assert (log.ended, log.cause) == ("stopped", "did not go in")
    assert does(log).count("reject") == 1
    assert "(burrs, chips, size)" in log.reason


def test_without_a_reject_place_a_person_is_told_what_to_do(tmp_path: Path) -> None:
    ready = stocked(tmp_path / "first-fit", bin_there=False)
    log = ready.run(cell_of(ready, OVERSIZE_PIN))
    assert (log.ended, log.cause) == ("stopped", "did not go in")
    assert "the cell has no reject place: take pin out of the" in log.reason
    assert "lies at tray.pin" in log.reason


def test_a_trial_rejects_a_burred_part_and_takes_the_next(ready: Ready, tmp_path: Path) -> None:
    """Half of all pins have a burr: in some builds the second goes in, in others it has one too."""
    folder = tmp_path / "first-fit"
    shutil.copytree(Path(ready.checked.project.folder), folder)
    product = (folder / "product.yaml").read_text()
    tip = "z_along: -z, diameter: 8 mm, fit: g6, length: 20 mm}"
    assert product.count(tip) == 1
    (folder / "product.yaml").write_text(product.replace(tip, f"{tip[:-1]}, lot: {{burrs: 50 %}}}}"))
    burred = check(load(folder))
    found = trial(
        burred, ready.chart, ready.ledger, builds=6, seed=4, recover=True, how=How(processes=1)
    ).body  # fmt: skip
    first = [b.tries[0] for b in found.builds]
    burrs = [b for b, t in zip(found.builds, first, strict=True) if t.cause == "a burr on pin.tip"]
    rejected = [b for b in burrs if ("reject", "did not go in") in b.recoveries]
    assert burrs == rejected
    assert sum(b.whole for b in rejected) > 0
    assert all(t.outcome == "ok" for b, t in zip(found.builds, first, strict=True) if b not in burrs)


class _Nowhere:
    """A planner that finds no way."""

    def rejected(self, chart: Chart, number: int, place: str, q: Stands, widths: Mapping[str, float]) -> Anew:
        raise NoWayAnewError(f"nothing leads to {place}")

    def again(self, chart: Chart, number: int, q: Stands, widths: Mapping[str, float]) -> Anew:
        raise NoWayAnewError("not asked")


def test_where_no_way_is_found_the_part_stays_in_the_hand(ready: Ready) -> None:
    cell = cell_of(ready, OVERSIZE_PIN)
    project, chart, ledger = ready.checked.project, ready.chart.body, ready.ledger.body
    log = execute(project, chart, ledger, cell, recover=True, planner=_Nowhere())
    assert (log.ended, log.cause) == ("stopped", "did not go in")
    assert "nothing leads to bin.opening" in log.reason
    assert "pin" in {h.holds for h in cell.truth.hands.values()}


def test_without_a_planner_nothing_is_rejected(ready: Ready) -> None:
    project, chart, ledger = ready.checked.project, ready.chart.body, ready.ledger.body
    log = execute(project, chart, ledger, cell_of(ready, OVERSIZE_PIN), recover=True)
    assert log.ended == "stopped"
    assert "reject" not in does(log)
