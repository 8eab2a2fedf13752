"""The bound on the makespan, reckoned by hand from the published formula."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.motion import Motion
from handfast.motion.timing import timed
from handfast.planning import plan
from handfast.planning.leg import element
from handfast.planning.lower_bound import lower_bound
from handfast.planning.workspace import Workspace, make_workspace

from .conftest import SEED

PUMP = Path(__file__).parents[2] / "projects" / "dosing-pump"


def turn(ws: Workspace, hand: str, joint: int, way: float) -> Motion:
    """A free motion of one joint, by a detour through another."""
    chain = ws.hands[hand].chain
    q = np.tile(chain.home, (3, 1))
    q[1, (joint + 1) % 6] += 0.3
    q[1:, joint] += way
    q[2, (joint + 1) % 6] = q[0, (joint + 1) % 6]
    return timed(chain, q, "free")


# The arms turn joint 1 at 0.6 x 2.96706 = 1.780236 rad/s with 400 deg/s2 = 6.981317 rad/s2: 1 rad takes
# 1 / 1.780236 + 1.780236 / 6.981317 = 0.816724 s, 0.2 rad (no cruise below v2/a = 0.454 rad) 2 sqrt(0.2 /
# 6.981317) s.
RADIAN, FIFTH = 0.816724, 0.338511


def done(ws: Workspace, **other_hand: str) -> tuple[Element, ...]:
    """A pin brought, handed over and put in; a cover put on; a screw driven: every waiting time 0.4 s a
    go."""
    second = other_hand.get("cover", "left")
    return (
        element("reach", "left", "pin", "place.tray.pin", "pin-in-bore", (turn(ws, "left", 0, 1.0),)),
        element("grasp", "left", "pin", "place.tray.pin", "pin-in-bore", before=0.4),
        element("move", "left", "pin", "hand.right", "pin-in-bore", (turn(ws, "left", 0, -0.2),)),
        element("reach", "right", "pin", "hand.left", "pin-in-bore", (turn(ws, "right", 0, 0.2),)),
        element("grasp", "right", "pin", "hand.left", "pin-in-bore", before=0.4),
        element("release", "left", "pin", "hand.right", "pin-in-bore", before=0.9),
        element("assemble", "right", "pin", "block.bore", "pin-in-bore", before=2.0),
        element("release", "right", "pin", "block.bore", "pin-in-bore", before=0.4),
        element("reach", second, "cover", "place.tray.cover", "cover-on-block", (turn(ws, second, 0, 1.0),)),
        element("assemble", second, "cover", "pin.top", "cover-on-block", before=1.0),
        element("hold", "left", "cover", "", "cover-on-block", before=9.0),
        element("use", "right", "screw", "tool.driver", "cover-screw", before=0.3),
        element("use", "right", "screw", "block.tapped", "cover-screw", before=1.5),
        element("delay", "left", "", "", "cover-screw", before=9.0),
    )


def test_the_critical_path_by_hand(workspace: Workspace, first_fit: CheckedProject) -> None:
    """Pin home: brought by the left hand, taken, put in; then the cover, brought meanwhile; then the
    screw."""
    pin = RADIAN + 0.4 + FIFTH + 0.4 + 2.0
    bound = lower_bound(workspace, done(workspace), first_fit.project.product.mates)
    assert bound == pytest.approx(pin + 1.0 + 1.5, abs=1e-5)


def test_half_the_sum_by_hand(workspace: Workspace, first_fit: CheckedProject) -> None:
    """With nothing built on anything, only the hands' work counts: two hands share it."""
    loose = tuple(
        replace(m, into="block", clamps=(), pairs=(replace(m.pairs[0], fixed_part="block"),))
        for m in first_fit.project.product.mates
    )
    work = 2 * RADIAN + 2 * FIFTH + 3 * 0.4 + 0.9 + 2.0 + 1.0 + 0.3 + 1.5
    assert lower_bound(workspace, done(workspace), loose) == pytest.approx(work / 2, abs=1e-5)


def test_holding_and_waiting_count_for_nothing(workspace: Workspace, first_fit: CheckedProject) -> None:
    mates = first_fit.project.product.mates
    working = tuple(e for e in done(workspace) if e.kind not in ("hold", "delay"))
    assert lower_bound(workspace, working, mates) == lower_bound(workspace, done(workspace), mates)


def test_lines_count_at_their_own_pace(workspace: Workspace, first_fit: CheckedProject) -> None:
    chain = workspace.hands["right"].chain
    slow = timed(chain, np.array([chain.home, chain.home + 0.001]), "line", np.array([7.0]))
    extra = element("assemble", "right", "pin", "block.bore", "pin-in-bore", (slow,))
    elements = (*done(workspace)[:6], extra, *done(workspace)[6:])
    mates = first_fit.project.product.mates
    longer = lower_bound(workspace, elements, mates) - lower_bound(workspace, done(workspace), mates)
    assert longer == pytest.approx(slow.duration)
    assert slow.duration > 7.0


def test_no_chart_of_the_example_beats_its_bound(first_fit: CheckedProject, chart: Chart) -> None:
    both = plan(first_fit, seed=SEED, together=True)
    assert isinstance(both, Chart)
    assert 0 < both.lower_bound_s < both.makespan_s < chart.makespan_s
    assert 0 < chart.lower_bound_s < chart.makespan_s


def test_equal_charts_have_equal_bounds_to_the_last_bit(monkeypatch: pytest.MonkeyPatch) -> None:
    """In whichever order the mates that a mate needs come out of a set, which changes from run to run."""

    class Backwards(set[str]):
        def __iter__(self) -> Iterator[str]:
            return iter(sorted(super().__iter__(), reverse=True))

    pump = check_folder(PUMP)
    assert isinstance(pump, CheckedProject)
    module, mates = sys.modules["handfast.planning.lower_bound"], pump.project.product.mates
    own = module._needed
    ws, rng = make_workspace(pump.project), np.random.default_rng(1)
    built_on = [len(own(pump.project.product, m, mates)) > 1 for m in mates]
    charts = [  # what is built on others is quick, so that the work of all before it decides
        tuple(
            element(
                "assemble", "left", m.part, "", m.name, before=rng.uniform(0.1, 9.0) * (0.05 if on else 1)
            )
            for m, on in zip(mates, built_on, strict=True)
        )
        for _ in range(40)
    ]
    bounds = [lower_bound(ws, elements, mates) for elements in charts]
    monkeypatch.setattr(module, "_needed", lambda *given: Backwards(own(*given)))
    assert [lower_bound(ws, elements, mates) for elements in charts] == bounds
