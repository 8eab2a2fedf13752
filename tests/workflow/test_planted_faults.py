"""Faults planted in the cell: no bad product passes as good, the cause is named, a person is told what to do,
and after the repair the same build goes on to its end."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from tests.proof.chart_by_hand import FOLDER
from tests.workflow.planted_faults import Fault, bad
from tests.workflow.repaired import Ready, after_repair, all_anew, begun_anew, cell_of

from handfast.files.run_log_file import read_run_log
from handfast.spatial import se3
from handfast.trials.trial import Trial, one_build
from handfast.trials.true_tightening import Tightened
from handfast.workflow.make_chart import is_chart, plan
from handfast.workflow.make_ledger import budget
from handfast.workflow.read_project import check, load
from handfast.workflow.run_chart import must_hold

SEEDS = (3, 20263)  # of what is drawn beside the fault; chosen before the first run
pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def ready() -> Ready:
    checked = check(load(FOLDER))
    chart = plan(checked, seed=7)
    assert is_chart(chart)
    return Ready(checked, chart, must_hold(checked.project, chart), budget(checked, chart))


# fault, causes that name it, and what the person is told
STOPS: dict[str, tuple[Fault, tuple[str, ...], str]] = {
    "undersize bore": (Fault(sizes={"block.bore": 7.98e-3}), ("did not go in",), "(burrs, chips, size)"),
    "missing screw": (Fault(gone="screw"), ("not taken up",), "whether a screw was presented, put one there"),
    "missing pin": (Fault(gone="pin"), ("missing part",), "put pin there"),
    "upside-down pin": (Fault(flipped="pin"), ("upside down",), "turn pin over"),
    "upside-down cover": (Fault(flipped="cover"), ("upside down",), "turn cover over"),
    "soft finger": (Fault(soft=0.3e-3), ("slipped",), "look at the pads"),
    "snagged hose on the way to the tray": (Fault(snag=0), ("obstructed",), "hoses"),
    "snagged hose with the pin in the hand": (Fault(snag=6), ("obstructed",), "hoses"),
    "snagged hose with the cover in the hand": (Fault(snag=20), ("obstructed",), "hoses"),
}  # fmt: skip


@pytest.mark.parametrize("name", STOPS)
def test_a_fault_that_stops_the_run_is_named_and_the_build_goes_on_after_the_repair(
    ready: Ready, name: str, tmp_path: Path
) -> None:
    fault, causes, told = STOPS[name]
    cell = cell_of(ready, fault, SEEDS[0])
    log = ready.run(cell, tmp_path / "log")
    assert log.ended == "stopped"
    assert log.cause in causes
    assert told in log.reason
    assert read_run_log(tmp_path / "log").log == log
    again = begun_anew(ready, cell, log) if name == "soft finger" else after_repair(ready, cell, log)
    assert again.ended == "done", again.reason
    assert bad(cell, ready.checked.project) == []


MOVED = {
    "right base 1 mm along x": Fault(moved={"arm.right.base": se3.translation(1e-3, 0, 0)}),
    "right base 1 mm along y": Fault(moved={"arm.right.base": se3.translation(0, 1e-3, 0)}),
    "left base 1 mm along x": Fault(moved={"arm.left.base": se3.translation(1e-3, 0, 0)}),
    "joint zero off by 0.1 deg, joint 1": Fault(zero=(0, np.radians(0.1))),
    "joint zero off by 0.1 deg, joint 3": Fault(zero=(2, np.radians(0.1))),
}
NAMED = ("unlikely touch", "did not go in", "screw not started", "not taken up", "no contact", "wrong width",
         "missing part", "cross-threaded")  # fmt: skip


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("name", MOVED)
def test_an_arm_that_is_off_makes_no_bad_product_that_passes(ready: Ready, name: str, seed: int) -> None:
    """What touches and searches can take back is taken back; what they cannot stops the run with a cause."""
    cell = cell_of(ready, MOVED[name], seed)
    log = ready.run(cell)
    if log.ended == "done":
        assert bad(cell, ready.checked.project) == []
    else:
        assert log.cause in NAMED
        assert len(log.reason) > 40
        again = all_anew(ready, cell)
        assert again.ended == "done", again.reason
        assert bad(cell, ready.checked.project) == []


@pytest.mark.parametrize("seed", SEEDS)
def test_a_sound_cell_makes_a_sound_product(ready: Ready, seed: int) -> None:
    cell = cell_of(ready, Fault(), seed)
    assert ready.run(cell).ended == "done"
    assert bad(cell, ready.checked.project) == []


def test_what_is_called_bad_is_bad(ready: Ready) -> None:
    """A pin half a millimetre too high, a cover a quarter of a millimetre aside: both are seen."""
    cell = cell_of(ready, Fault(), SEEDS[0])
    assert ready.run(cell).ended == "done"
    for item, off in (("pin", (0, 0, 0.6e-3)), ("cover", (0.25e-3, 0, 0))):
        there = cell.truth.items[item]
        cell.truth.attach(item, there.parent, there.T_parent_item @ se3.translation(*off))
        assert [w.split()[0] for w in bad(cell, ready.checked.project)]
        cell.truth.attach(item, there.parent, there.T_parent_item)


@pytest.mark.parametrize(
    ("ends", "cause", "told"),
    [
        (Tightened("stripped"), "screw not seated", "a stripped thread"),
        (Tightened("bottomed", 0.9e-3), "screw not seated", "look for a jam, a wrong screw"),
    ],
)
def test_a_screw_that_does_not_seat_is_named(
    ready: Ready, ends: Tightened, cause: str, told: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("handfast.trials.driving.tightened", lambda *_: ends)
    cell = cell_of(ready, Fault(), SEEDS[0])
    log = ready.run(cell)
    assert (log.ended, log.cause) == ("stopped", cause)
    assert told in log.reason
    assert [t.outcome for t in cell.tries if t.mate == "cover-screw"] == ["failed"]


def test_a_screw_that_bottoms_within_what_its_angle_shows_is_counted_as_failed(
    ready: Ready, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A fifth of a millimetre early is a quarter of a turn: the driver cannot tell, the trial does."""
    monkeypatch.setattr("handfast.trials.driving.tightened", lambda *_: Tightened("bottomed", 0.2e-3))
    what = Trial(ready.checked.project, ready.chart.body, ready.ledger.body, SEEDS[0])
    build, log = one_build(what, 0)
    assert log.ended == "done"
    assert not build.whole
    assert [t.cause for t in build.tries if t.outcome == "failed"] == [
        "the screw met the end of its hole 0.20 mm early"
    ]
