"""The pump with both hands at once: how short, and how near its bound, both reckoned here from the project's
files and the chart alone."""

from __future__ import annotations

import math
import re
from collections import defaultdict
from pathlib import Path

import pytest
import yaml

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.planning import plan
from handfast.proof import verify

from .conftest import SEED

PUMP = Path(__file__).parents[2] / "projects" / "dosing-pump"
TAKE_UP, TORQUE_UP = 0.3, 0.5  # what the bit waits for a screw and for the last torque [s]


@pytest.fixture(scope="module")
def checked() -> CheckedProject:
    found = check_folder(str(PUMP))
    assert isinstance(found, CheckedProject)
    return found


@pytest.fixture(scope="module")
def both(checked: CheckedProject) -> Chart:
    chart = plan(checked, seed=SEED, together=True)
    assert isinstance(chart, Chart)
    return chart


def limits() -> tuple[list[float], list[float]]:
    """Speed [rad/s] and acceleration [rad/s2] limits of the joints, from the arm's description and the
    cell."""
    urdf = (PUMP / "arms" / "arm.urdf").read_text(encoding="utf-8")
    arm = yaml.safe_load((PUMP / "cell.yaml").read_text(encoding="utf-8"))["arms"]["left"]
    share = float(arm["speed"].split()[0]) / 100
    speeds = [share * float(v) for v in re.findall(r'velocity="([\d.]+)"', urdf)][:6]
    return speeds, [math.radians(float(a.split()[0])) for a in arm["max_acceleration"]]


def least(e: Element, speeds: list[float], accelerations: list[float], close: float) -> float:
    """The least an element takes [s]: jaws, settling and lines as they are, free motions at the joints'
    limits.

    Stop to stop over a way s with speed v and acceleration a: s/v + v/a, or 2 sqrt(s/a) where v is not
    reached."""
    total = close if e.kind in ("grasp", "release") else 0.0
    if e.kind == "use":
        total = TAKE_UP if e.target.startswith("tool.") else (0.0 if e.motions else TORQUE_UP)
    for m in e.motions:
        if m.path == "line":
            total += m.t[-1] - m.t[0]
            continue
        ways = [abs(b - a) for a, b in zip(m.q[0], m.q[-1], strict=True)]
        total += max(
            s / v + v / a if s >= v * v / a else 2 * math.sqrt(s / a)
            for s, v, a in zip(ways, speeds, accelerations, strict=True)
        )
    return total


def bound(chart: Chart) -> float:
    """What the cover needs before it is home is shared by two hands; then the one driver puts the four
    screws in one after the other and goes back, save that it may stand ready with the first. Of everything
    else only what surely comes before is counted: parts brought and joined, and let go but for one of each
    hand."""
    mates = yaml.safe_load((PUMP / "product.yaml").read_text(encoding="utf-8"))["mates"]
    close = 0.4
    speeds, accelerations = limits()
    screws = [name for name, m in mates.items() if m["kind"] == "screw"]
    before, after = 0.0, 0.0
    working = [e for e in chart.elements if e.kind not in ("hold", "delay")]
    letting_go: dict[str, list[float]] = defaultdict(list)
    for name in mates:
        own = [e for e in working if e.mate == name and e.target != "home"]
        joins = [e for e in own if e.kind in ("assemble", "use") and not e.target.startswith("tool.")]
        times = {e.number: least(e, speeds, accelerations, close) for e in own}
        if name in screws:
            ready = own.index(joins[0]) if name == screws[0] else 0
            after += sum(times[e.number] for e in own[ready:])
            continue
        for e in own:
            if e.kind == "release" and e.number > joins[0].number:
                if name != "cover-on-body":  # which is let go when two screws are in
                    letting_go[e.hand].append(times[e.number])
            else:
                before += times[e.number]
    holds_cover = next(e.hand for e in chart.elements if e.mate == "cover-on-body" and e.kind == "assemble")
    for hand, took in letting_go.items():  # the hand at the cover let go of all else; the other may be at it
        before += sum(took) - (0.0 if hand == holds_cover else max(took))
    driver = next(e.hand for e in chart.elements if e.mate == screws[-1] and e.kind == "use")
    home = [e for e in chart.elements if not e.mate and e.hand == driver]
    return before / 2 + after + sum(least(e, speeds, accelerations, close) for e in home)


@pytest.mark.slow
def test_two_hands_take_three_quarters_of_one_at_a_time_and_are_near_the_bound(
    checked: CheckedProject, both: Chart
) -> None:
    alone = plan(checked, seed=SEED)
    assert isinstance(alone, Chart)
    ends = {chart: max(e.start_s + e.duration_s for e in chart.elements) for chart in (alone, both)}
    assert ends[both] <= 0.75 * ends[alone]
    assert ends[both] <= 1.25 * bound(both)
    assert both.lower_bound_s == pytest.approx(bound(both), abs=0.01)
    work = {c: sum(e.duration_s for e in c.elements if e.kind not in ("hold", "delay")) for c in ends}
    assert work[alone] == pytest.approx(ends[alone])  # one hand at a time indeed


@pytest.mark.slow
def test_the_proof_certifies_both_arms_moving(checked: CheckedProject, both: Chart) -> None:
    moving = [e for e in both.elements if e.motions]
    shared = sum(
        max(0.0, min(a.start_s + a.duration_s, b.start_s + b.duration_s) - max(a.start_s, b.start_s))
        for a in moving
        for b in moving
        if (a.hand, b.hand) == ("left", "right")
    )
    assert shared > 15.0
    proof = verify(checked.project, both, "0" * 64)
    assert proof.holds, [v.text for v in proof.violations]
