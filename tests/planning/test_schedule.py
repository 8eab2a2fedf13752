"""Elements in time: each hand has one line after another, and its gaps are told."""

from __future__ import annotations

from itertools import pairwise

import pytest

from handfast.model.element import Element
from handfast.planning.leg import element
from handfast.planning.schedule import one_at_a_time

HANDS = ("left", "right")
# The left hand holds a cover while the right hand drives a screw.
DONE = (
    element("reach", "left", "cover", "place.tray.cover", "cover", before=1.0),
    element("grasp", "left", "cover", "place.tray.cover", "cover", before=0.4),
    element("assemble", "left", "cover", "block.bore", "cover", before=2.0),
    element("reach", "right", "driver", "place.stand.driver", "screw", before=1.5),
    element("grasp", "right", "driver", "place.stand.driver", "screw", before=0.4),
    element("use", "right", "screw", "block.tapped", "screw", before=3.0),
    element("release", "left", "cover", "block.bore", "cover", before=0.4),
    element("release", "right", "driver", "place.stand.driver", "screw", before=0.4),
)


def of(elements: tuple[Element, ...], hand: str) -> list[Element]:
    return [e for e in elements if e.hand == hand]


def test_every_hand_is_accounted_for_from_start_to_end() -> None:
    elements = one_at_a_time(DONE, HANDS)
    end = sum(e.duration_s for e in DONE)
    for hand in HANDS:
        own = of(elements, hand)
        assert own[0].start_s == 0
        for a, b in pairwise(own):
            assert b.start_s == pytest.approx(a.start_s + a.duration_s)
        assert own[-1].start_s + own[-1].duration_s == pytest.approx(end)


def test_one_hand_moves_at_a_time_in_the_order_given() -> None:
    working = [e for e in one_at_a_time(DONE, HANDS) if e.kind not in ("hold", "delay")]
    assert [(e.kind, e.hand, e.object) for e in working] == [(e.kind, e.hand, e.object) for e in DONE]
    for a, b in pairwise(working):
        assert b.start_s == pytest.approx(a.start_s + a.duration_s)


def test_a_hand_with_something_in_it_holds_and_an_empty_one_waits() -> None:
    gaps = [e for e in one_at_a_time(DONE, HANDS) if e.kind in ("hold", "delay")]
    told = [(e.hand, e.kind, e.object, round(e.start_s, 9), round(e.duration_s, 9)) for e in gaps]
    assert told == [
        ("right", "delay", "", 0.0, 3.4),
        ("left", "hold", "cover", 3.4, 4.9),
        ("right", "hold", "driver", 8.3, 0.4),
        ("left", "delay", "", 8.7, 0.4),
    ]
    assert [(e.waits_for, e.cause) for e in gaps] == [
        ("its turn", "waits for the left hand"),
        ("its turn", "waits for the right hand"),
        ("its turn", "waits for the left hand"),
        ("nothing more to do", "has nothing more to do"),
    ]


def test_numbers_count_up_in_time_and_ids_are_unique_and_say_what_is_done() -> None:
    elements = one_at_a_time(DONE, HANDS)
    assert [e.number for e in elements] == list(range(1, len(elements) + 1))
    assert [e.start_s for e in elements] == sorted(e.start_s for e in elements)
    assert len({e.id for e in elements}) == len(elements)
    for e in elements:
        assert e.id == f"{e.mate}/{e.number:02d}-{e.kind}-{e.hand}"


def test_a_hand_that_never_moves_waits_throughout() -> None:
    elements = one_at_a_time(DONE[:3], HANDS)
    (idle,) = of(elements, "right")
    assert idle.kind == "delay"
    assert idle.start_s == 0
    assert idle.duration_s == pytest.approx(3.4)
