"""The ledger of a chart as the planner makes it: the dosing pump, with handovers and a tightening pattern."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger, MateRow, PairRow
from handfast.model.strategy import RotateWhileLowering
from handfast.planning.plan import plan
from handfast.uncertainty.budget import budget

PUMP = Path(__file__).parents[2] / "projects" / "dosing-pump"
pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def planned() -> tuple[CheckedProject, Chart]:
    checked = check_folder(PUMP)
    assert isinstance(checked, CheckedProject), checked
    chart = plan(checked, seed=7)
    assert isinstance(chart, Chart), chart
    return checked, chart


@pytest.fixture(scope="module")
def ledger(planned: tuple[CheckedProject, Chart]) -> Ledger:
    checked, chart = planned
    return budget(checked.project, chart, "sha")


def row(of: Ledger, mate: str) -> MateRow:
    return next(r for r in of.rows if r.mate == mate)


def pair(of: MateRow, words: str) -> PairRow:
    (found,) = (p for p in of.pairs if words in p.name)
    return found


def test_every_mate_of_the_chart_has_a_row_or_a_reason(
    planned: tuple[CheckedProject, Chart], ledger: Ledger
) -> None:
    chart = planned[1]
    assert len(chart.mates) == 12
    assert {r.mate for r in ledger.rows} | {m for m, _ in ledger.not_budgeted} == set(chart.mates)
    ((mate, reason),) = ledger.not_budgeted
    assert mate == "ring-in-groove"
    assert "found a ring" in reason
    assert "598 builds in a row" in reason  # 0.995^598 = 4.99 %, by hand
    assert "counts as not shown" in reason
    assert ledger.build_yield.low == 0
    assert any("hand." in e.target for e in chart.elements), "a handover"
    assert sum(e.kind == "use" for e in chart.elements) == 16, "four screws taken up, and three rounds"


def test_all_pairs_of_a_mate_have_to_hold_at_once(ledger: Ledger) -> None:
    found = row(ledger, "lower-block-in-pocket")
    assert [p.name for p in found.pairs] == [
        "outer_drive with body.lobe_drive", "outer_idler with body.lobe_idler"
    ]  # fmt: skip
    each = [p.probability for p in found.pairs]
    # One part, one error: whoever is in one lobe is mostly in the other as well.
    assert np.prod(each) + 0.05 < found.probability.low < min(each)
    assert len(row(ledger, "upper-block-on-shafts").pairs) == 4
    assert len(row(ledger, "cover-on-body").pairs) == 4


def test_teeth_meet_gaps_as_often_as_the_backlash_is_part_of_the_pitch(ledger: Ledger) -> None:
    """Both gears stand as they were put, +-10 deg: as good as any phase. Window 60 um of pi mm (module 1)."""
    found = row(ledger, "idler-gear-in-mesh")
    assert pair(found, "teeth").probability == pytest.approx(0.06 / math.pi, abs=0.006)
    (turned,) = (s for s in found.strategies if s.name == "rotate while lowering")
    assert turned.probability.low > found.probability.low + 0.3
    # Half of 0.06 mm a try over a pitch of pi mm, both ways; 0.2 mm up and down at 5 mm/s between two.
    how = turned.strategy
    assert isinstance(how, RotateWhileLowering)
    assert how.tries == 107
    assert how.step == pytest.approx(0.03e-3 / 9e-3)
    assert how.drop == pytest.approx(0.8e-3)  # two chamfers of 0.3 mm at 45 deg, and 0.2 mm
    assert turned.extra_s == pytest.approx(106 * 0.08 + 1.5 * 106 * 0.03 / 9)
    assert "rotate while lowering would bring" in found.verdict


def test_a_screw_has_one_row_however_often_the_pattern_comes_back(ledger: Ledger) -> None:
    for n in range(1, 5):
        (found,) = (r for r in ledger.rows if r.mate == f"screw-{n}")
        assert [p.name for p in found.pairs] == [
            "M4 in its thread",
            f"M4 point into cover.screw_hole_{n}",
            f"M4 thread under cover.screw_hole_{n}",
            "bit into its socket",
            "bit into its socket, round 2",
            "bit into its socket, round 3",
        ]
        # 4.5 mm mouths: 0.25 mm of lead-in, and 0.6 mm of the screw's own chamfered end (product.yaml).
        assert pair(found, "in its thread").allowed == pytest.approx(0.85e-3)


def test_a_slot_asks_across_it_and_between_its_ends(ledger: Ledger) -> None:
    slot = pair(row(ledger, "cover-on-body"), "slot with pin_b.top")
    ends = next(x for x in slot.limits if x.name == "between its ends")
    # (5.6 - 5)/2 mm and the lead-ins of 0.5 and 0.21 mm.
    assert ends.value == pytest.approx(0.3e-3 + 0.71e-3)
    hole = pair(row(ledger, "cover-on-body"), "pin_hole")
    assert slot.probability > hole.probability, "a slab is less than a disc to meet"


def test_what_shares_a_cause_goes_in_together(ledger: Ledger) -> None:
    """Nest and arm stand where they stand: if the first pin found its hole, the second does too."""
    second = row(ledger, "pin-b-in-dowel")
    assert second.probability.low < 0.95
    assert second.in_order.low > 0.98


def test_within_a_cell_set_right_the_mates_are_far_more_certain(ledger: Ledger) -> None:
    for mate in ("lower-block-in-pocket", "pin-a-in-dowel", "cover-on-body"):
        found = row(ledger, mate)
        assert found.probability_within.low > found.probability.high
        assert found.between_cells.sigma_major > 0.2e-3, "arms, nest and stand as set up"


def test_the_drawn_parts_go_together(ledger: Ledger) -> None:
    for found in ledger.rows:
        assert found.assemblable > 0.999, found.mate


def test_the_same_chart_gives_the_same_ledger(planned: tuple[CheckedProject, Chart], ledger: Ledger) -> None:
    checked, chart = planned
    assert budget(checked.project, chart, "sha") == ledger
