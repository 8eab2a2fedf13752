from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from handfast.standards.bearings import bore_deviations, outside_deviations
from handfast.standards.clearance_holes import CLEARANCE_HOLES_MM, clearance_hole
from handfast.standards.dowel_pins import CHAMFER_LENGTH_MM, dowel_pin
from handfast.standards.general_tolerances import angle_tolerance, edge_tolerance, linear_tolerance
from handfast.standards.property_classes import property_class
from handfast.standards.screw_friction import friction_range
from handfast.standards.socket_head_screws import socket_head
from handfast.standards.tabled_value_error import TabledValueError
from handfast.standards.threads import THREAD_NAMES, coarse_thread

MM = 1e-3


@pytest.mark.parametrize(
    ("ask", "says"),
    [
        (lambda: coarse_thread("M7"), "M2, M2.5, M3"),
        (lambda: clearance_hole("M7"), "ISO 273"),
        (lambda: clearance_hole("M4", "loose"), "fine, medium, coarse"),
        (lambda: socket_head("M7"), "ISO 4762"),
        (lambda: property_class("9.9"), "8.8"),
        (lambda: friction_range("wet"), "lubricated"),
        (lambda: dowel_pin(7 * MM), "ISO 8734"),
        (lambda: bore_deviations(300 * MM), "250 mm"),
        (lambda: outside_deviations(1 * MM), "2.5 mm"),
        (lambda: linear_tolerance(0.4 * MM), "beside the size"),
        (lambda: linear_tolerance(2 * MM, "v"), "beside the size"),
        (lambda: linear_tolerance(2 * MM, "x"), "f, m, c, v"),
        (lambda: edge_tolerance(0.4 * MM), "0.5 mm"),
    ],
)
def test_tables_say_what_they_hold(ask: Callable[[], object], says: str) -> None:
    with pytest.raises(TabledValueError, match=says):
        ask()


def test_every_thread_has_a_head_and_a_hole() -> None:
    for name in THREAD_NAMES:
        thread, head, hole = coarse_thread(name), socket_head(name), clearance_hole(name)
        assert thread.diameter < hole < head.bearing_diameter < head.head_diameter
        assert head.key < thread.diameter
    assert set(CLEARANCE_HOLES_MM) == set(THREAD_NAMES)


def test_general_tolerances_of_edges_and_angles() -> None:
    # ISO 2768-1 tables 2 and 3 (from memory).
    assert [edge_tolerance(size * MM) / MM for size in (3, 6, 7)] == pytest.approx([0.2, 0.5, 1.0])
    assert math.degrees(angle_tolerance(10 * MM)) == pytest.approx(1.0)
    assert math.degrees(angle_tolerance(60 * MM)) == pytest.approx(20 / 60)
    assert math.degrees(angle_tolerance(1.0)) == pytest.approx(5 / 60)


def test_pin_chamfers_widen_the_capture_by_their_radial_width() -> None:
    # 15 degrees to the axis: a 6 mm pin's chamfer of 1.2 mm is 0.32 mm wide.
    assert dowel_pin(6 * MM).chamfer_width == pytest.approx(0.3215 * MM, rel=1e-3)
    widths = [dowel_pin(size * MM).chamfer_width for size in sorted(CHAMFER_LENGTH_MM)]
    assert widths == sorted(widths)
