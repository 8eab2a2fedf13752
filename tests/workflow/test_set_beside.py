"""Two charts beside each other: what has to be checked again, by charts changed by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.page.first_fit_chart import first_fit_chart as example_chart

from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.workflow.set_beside import set_beside


def moving(chart: Chart, nth: int = 0) -> Element:
    return [e for e in chart.elements if e.motions][nth]


def changed(chart: Chart, element: Element, **fields: object) -> Chart:
    other = replace(element, **fields)  # type: ignore[arg-type]  # any field of an element
    return replace(chart, elements=tuple(other if e is element else e for e in chart.elements))


def test_a_chart_beside_itself_has_nothing_to_check() -> None:
    chart = example_chart()
    found = set_beside(chart, chart)
    assert (found.same, found.changed, found.gone) == (len(chart.elements), (), ())
    assert found.before_s == found.after_s == chart.makespan_s
    assert not found.order_changed


def test_a_moved_path_is_told_with_how_far_it_moved() -> None:
    chart = example_chart()
    element = moving(chart)
    q = [list(knot) for knot in element.motions[0].q]
    q[-1][2] += 0.03
    path = replace(element.motions[0], q=tuple(map(tuple, q)))
    found = set_beside(chart, changed(chart, element, motions=(path, *element.motions[1:])))
    (only,) = found.changed
    assert (only.element.number, only.before, only.matters) == (element.number, element.number, ("path",))
    assert only.shift == pytest.approx(0.03)
    assert found.same == len(chart.elements) - 1


def test_an_element_put_in_early_leaves_the_others_as_they_were() -> None:
    """Numbers and starts of all that follow shift; none of them has to be checked again for that."""
    chart = example_chart()
    first = chart.elements[0]
    delay = replace(first, id="new", kind="delay", object="", target="", motions=(), duration_s=1.0, cause="")
    later = tuple(replace(e, number=e.number + 1, start_s=e.start_s + 1.0) for e in chart.elements)
    longer = replace(chart, elements=(delay, *later), makespan_s=chart.makespan_s + 1.0)
    found = set_beside(chart, longer)
    assert [(d.element.id, d.matters) for d in found.changed] == [("new", ("new",))]
    assert found.same == len(chart.elements)
    back = set_beside(longer, chart)
    assert [e.id for e in back.gone] == ["new"]
    assert back.changed == ()


@pytest.mark.parametrize(
    ("fields", "matter"),
    [({"torque": 0.7}, "force"), ({"opening": 0.0123}, "jaws"), ({"turns": 3.0}, "force")],
)
def test_forces_and_jaws_count(fields: dict[str, float], matter: str) -> None:
    chart = example_chart()
    (only,) = set_beside(chart, changed(chart, moving(chart), **fields)).changed
    assert only.matters == (matter,)
    assert only.shift == 0.0


def test_mates_done_in_another_order_are_told() -> None:
    chart = replace(example_chart(), mates=("a", "b", "c"))
    assert set_beside(chart, replace(chart, mates=("b", "a"))).order_changed
    assert not set_beside(chart, replace(chart, mates=("a", "x", "c"))).order_changed


def test_where_hands_work_together_their_timing_counts() -> None:
    """The same path beside another motion of the other hand has another proof."""
    chart = example_chart()
    hands = chart.hands
    one, other = moving(chart), moving(chart, 1)
    a = replace(one, hand=hands[0], start_s=0.0, duration_s=2.0, number=1, id="a")
    b = replace(other, hand=hands[1], start_s=1.0, duration_s=2.0, number=2, id="b")
    both = replace(chart, elements=(a, b))
    found = set_beside(both, replace(both, elements=(a, replace(b, start_s=1.5))))
    assert [d.matters for d in found.changed] == [("timing",), ("timing",)]
    apart = replace(chart, elements=(a, replace(b, start_s=3.0)))
    assert set_beside(apart, replace(chart, elements=(a, replace(b, start_s=4.0)))).changed == ()


def test_what_handles_another_part_is_checked_again_though_it_moves_alike() -> None:
    chart = example_chart()
    part = next(e.object for e in chart.elements if e.kind == "grasp")
    found = set_beside(chart, chart, frozenset({part}))
    handled = [e.number for e in chart.elements if part in (e.object, e.target.partition(".")[0])]
    assert [d.element.number for d in found.changed] == handled
    assert {d.matters for d in found.changed} == {("part",)}
    assert found.same == len(chart.elements) - len(handled)


def test_a_place_told_anew_to_the_last_digit_is_the_same_place() -> None:
    chart = example_chart()
    element = next(e for e in chart.elements if e.leaves is not None)
    assert element.leaves is not None
    x, y, z = element.leaves.pose.position
    for off, told in ((1e-12, 0), (1e-5, 1)):
        pose = replace(element.leaves.pose, position=(x + off, y, z))
        found = set_beside(chart, changed(chart, element, leaves=replace(element.leaves, pose=pose)))
        assert len(found.changed) == told
