"""A generated product of 40 pins so near to each other that the order decides which the fingers can reach."""

from __future__ import annotations

import numpy as np
import pytest
from measured import many_parts

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.model.chart import Chart
from handfast.model.project import Project
from handfast.planning import plan

PARTS = 41  # the plate is one
PITCH = 14.8  # of holes and of waiting pins [mm]: fingers of 7 mm that open by 2 mm do not go between all
FINGER = (8.0, 7.0, 60.0)  # across its pad, thick, and long back from its tip [mm]
GAP = 2.0  # by which each finger opens to go down beside a pin [mm]


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> tuple[Project, Chart]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(many_parts, "PITCH", PITCH)
        folder = many_parts.write_many(tmp_path_factory.mktemp("many") / "pins", PARTS, seed=1)
    checked = check_folder(folder)
    assert isinstance(checked, CheckedProject)
    chart = plan(checked, seed=0)
    assert isinstance(chart, Chart)
    return checked.project, chart


def size(project: Project, pin: str) -> tuple[float, float]:
    """Radius and length of a pin [mm]."""
    kind = "a" if "pin_a" in str(project.product.part(pin).solids) else "b"
    diameter, length = many_parts.PINS[kind]
    return diameter / 2, length


def beside(T_grip_pin: np.ndarray, half: float, length: float) -> float:
    """Distance [mm] from the axis of a pin to the nearer of two fingers that stand `half` from the middle."""
    along = np.linspace(-length / 2, length / 2, 200)
    x, y, z = (T_grip_pin[:3, 3, None] + T_grip_pin[:3, 2, None] * along)[:, :]
    off = np.abs(y) - half
    gap = [np.abs(x) - FINGER[0] / 2, np.maximum(-off, off - FINGER[1]), np.maximum(z, -FINGER[2] - z)]
    return float(np.linalg.norm(np.maximum(gap, 0.0), axis=0).min())


def test_every_pin_goes_home_once_and_no_hand_does_two_things_at_once(
    planned: tuple[Project, Chart],
) -> None:
    _, chart = planned
    home = [e.object for e in chart.elements if e.kind == "assemble"]
    assert sorted(home) == sorted(f"pin_{k}" for k in range(PARTS - 1))
    for hand in chart.hands:
        own = sorted((e for e in chart.elements if e.hand == hand), key=lambda e: e.start_s)
        ends = [e.start_s + e.duration_s for e in own]
        assert all(b.start_s >= end - 1e-9 for end, b in zip(ends, own[1:], strict=False))


def test_fingers_close_between_the_pins_that_still_stand_there(planned: tuple[Project, Chart]) -> None:
    """Outside the planner: distances from points on the pins' axes to two boxes, from the drawn sizes."""
    project, chart = planned
    stands = {
        p.holds: h.pose.matrix @ p.pose.matrix for h in project.cell.holders for p in h.places if p.holds
    }
    del stands["plate"]
    least = np.inf
    for e in sorted(chart.elements, key=lambda e: e.start_s):
        if e.kind == "grasp":
            assert e.grasp is not None
            T_grip_world = e.grasp.T_grip_part.matrix @ np.linalg.inv(stands.pop(e.object))
            half = size(project, e.object)[0] + GAP
            for pin, T_world_pin in stands.items():
                T = T_grip_world @ T_world_pin
                T[:3, 3] *= 1e3
                radius, length = size(project, str(pin))
                least = min(least, beside(T, half, length) - radius)
    assert not stands
    assert 0.0 <= least < 1.0
