"""Tightening patterns: every round of every screw in turn, as far or as tight as the pattern says. Distances
are left out, so that each fault has to be caught by its own check."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from tests.proof.chart_by_hand import with_element
from tests.proof.faults import found, leaves_of, renumbered
from tests.proof.pattern_by_hand import FINAL, SNUG, TURN, pattern_by_hand

from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.project import Project
from handfast.model.proof import Proof
from handfast.model.tightening import Stage, Tightening
from handfast.proof import verify
from handfast.proof.allowances import lasting
from handfast.proof.rounds import others_first, retains
from handfast.proof.standing import Standing
from handfast.proof.timeline import check_times, lay_out
from handfast.spatial import se3
from handfast.spatial.pose import Pose

Made = tuple[Project, Chart]


@pytest.fixture
def made(monkeypatch: pytest.MonkeyPatch) -> Made:
    monkeypatch.setattr("handfast.proof.in_parts.certify", lambda *args: None)
    return pattern_by_hand()


def proof(made: Made, chart: Chart) -> Proof:
    return verify(made[0], chart, "sha")


def uses(chart: Chart) -> list[Element]:
    """Those that drive: first round of both screws, second of both, third of both."""
    return [e for e in chart.elements if e.kind == "use" and e.turns is not None]


def texts(proof: Proof, kind: str) -> list[str]:
    return [v.text for v in proof.violations if v.kind == kind]


def without(chart: Chart, gone: Element) -> Chart:
    """The chart without a use; the hand goes there all the same."""
    changes: dict[str, Any] = {
        "kind": "move",
        "object": "driver",
        "leaves": None,
        "torque": None,
        "turns": None,
    }
    return with_element(chart, gone.number, **changes)


def test_a_chart_with_every_round_holds(made: Made) -> None:
    assert [(e.object, e.torque) for e in uses(made[1])] == [
        (screw, torque) for torque in (None, SNUG, FINAL) for screw in ("screw", "screw_2")
    ]  # fmt: skip
    assert proof(made, made[1]).violations == ()


@pytest.mark.parametrize("left_out", range(6))
def test_a_round_left_out(made: Made, left_out: int) -> None:
    result = proof(made, without(made[1], uses(made[1])[left_out]))
    if left_out == 5:
        assert texts(result, "missing mate") == [
            "mate 'second-screw' is never done: 'screw_2' has had 2 of the 3 rounds of 'lid'"
        ]
    else:
        assert any("comes before its turn" in text for text in texts(result, "order")) or left_out in (0, 1)
        assert any(
            "'screw' has had 2 of" in t or "'screw_2' has had 2 of" in t
            for t in texts(result, "missing mate")
        )


def test_one_screw_driven_home_before_the_other_is_snug(made: Made) -> None:
    chart = made[1]
    snug, final = uses(chart)[3], uses(chart)[4]

    def block(use: Element) -> list[Element]:  # to the screw, drive, up
        return [e for e in chart.elements if use.number - 1 <= e.number <= use.number + 1]

    rest = [e for e in chart.elements if e not in block(snug) and e not in block(final)]
    place = next(i for i, e in enumerate(rest) if e.number > final.number)
    swapped = renumbered(chart, [*rest[:place], *block(final), *block(snug), *rest[place:]])
    early = "round 3 of 3 of 'lid' (1.8 N m) on 'cover-screw' comes before its turn; due is 'second-screw'"
    assert any(early in text for text in texts(proof(made, swapped), "order"))


def spoilt(made: Made, number: int, **changes: Any) -> Proof:
    return proof(made, with_element(made[1], uses(made[1])[number].number, **changes))


def of(made: Made, number: int) -> int:
    return uses(made[1])[number].number


def test_the_torque_of_each_round(made: Made) -> None:
    for number, wrong in ((0, SNUG), (2, None), (2, 2 * SNUG), (2, FINAL), (4, None), (4, SNUG), (5, 1.7)):
        result = spoilt(made, number, torque=wrong)
        assert found(result, "limit", of(made, number)), (number, wrong)
        assert len(result.violations) == 1, (number, wrong)


def test_the_turns_of_a_round(made: Made) -> None:
    for turns in (None, TURN, 3 * TURN):
        assert found(spoilt(made, 0, turns=turns), "limit", of(made, 0)), turns
    assert found(
        spoilt(made, 0, turns=3 * TURN), "wrong place", of(made, 0)
    )  # and the hand went two turns deep
    assert found(spoilt(made, 2, turns=TURN), "wrong place", of(made, 2))


def test_a_screw_that_is_not_where_its_round_ends(made: Made) -> None:
    """The hand stops half way: the thread is not in by two turns, the head does not bear, it is not home."""
    for number, word in ((0, "mm in its thread"), (2, "cannot be tight yet")):
        use = uses(made[1])[number]
        result = spoilt(made, number, motions=use.motions[: len(use.motions) // 2])
        assert any(word in v.text for v in found(result, "wrong place", use.number)), word
    result = spoilt(made, 5, motions=())
    assert any("off its home" in v.text for v in found(result, "wrong place", of(made, 5)))


def test_where_the_chart_says_a_screw_is_left_half_way(made: Made) -> None:
    leaves = leaves_of(uses(made[1])[0])
    off = replace(leaves, pose=Pose.from_matrix(leaves.pose.matrix @ se3.translation(0.0, 0.0, 0.2e-3)))
    assert found(spoilt(made, 0, leaves=off), "wrong place", of(made, 0))
    rolled = replace(
        leaves, pose=Pose.from_matrix(leaves.pose.matrix @ se3.rotation(np.array([0, 0, 1.0]), 1.0))
    )
    assert spoilt(made, 0, leaves=rolled).violations == ()


def test_a_bit_that_is_not_in_the_screw_when_a_round_begins(made: Made) -> None:
    chart = made[1]
    use = uses(chart)[2]
    beside = without(chart, use)  # a move in its place: the next round begins with a bit 4.6 mm off
    result = proof(made, beside)
    last = uses(chart)[4]
    early = [v for v in found(result, "wrong place", last.number) if v.time_s == last.start_s]
    assert any("the bit of 'driver' is not at 'screw'" in v.text for v in early)


def test_a_screw_beside_its_thread_half_way(made: Made) -> None:
    project = made[0]
    block = project.product.part("block")
    tapped = block.feature("tapped")
    off = replace(tapped, frame=Pose.from_matrix(se3.translation(0.1e-3, 0, 0) @ tapped.frame.matrix))
    features = tuple(off if f.name == "tapped" else f for f in block.features)
    parts = tuple(replace(p, features=features) if p.name == "block" else p for p in project.product.parts)
    moved = replace(project, product=replace(project.product, parts=parts))
    for number in (0, 2):
        texts = [v.text for v in found(proof((moved, made[1]), made[1]), "wrong place", of(made, number))]
        assert any("off its axis" in text for text in texts), number


def test_screws_may_touch_what_they_clamp(made: Made) -> None:
    pairs = {(a.a, a.b) for a in lasting(made[0]) if a.reason == "mate"}
    assert {("screw", "cover"), ("screw_2", "cover")} <= pairs


def test_motions_wait_as_long_as_their_element_says(made: Made) -> None:
    chart = made[1]
    use = uses(chart)[0]
    assert use.motions
    (moved,) = (m for m in lay_out(chart).moves if m.element == use and m.motion is use.motions[0])
    waits = with_element(chart, use.number, before_s=0.2)
    (later,) = (m for m in lay_out(waits).moves if m.motion is use.motions[0])
    assert later.start - moved.start == pytest.approx(0.2)
    assert not check_times(made[0], waits)
    assert check_times(made[0], with_element(chart, use.number, before_s=0.6))  # longer than there is time


def test_the_cover_is_held_until_its_screw_is_snug(made: Made) -> None:
    chart = made[1]
    (release,) = (e for e in chart.elements if e.kind == "release" and e.object == "cover")
    snug, first = uses(chart)[2], uses(chart)[0]
    assert snug.number < release.number < uses(chart)[3].number

    def let_go_after(number: int) -> list[str]:
        rest = [e for e in chart.elements if e is not release]
        place = next(i for i, e in enumerate(rest) if e.number == number) + 1
        return texts(proof(made, renumbered(chart, [*rest[:place], release, *rest[place:]])), "not held")

    assert any("'cover'" in text and "'cover-screw'" in text for text in let_go_after(first.number + 1))
    assert let_go_after(snug.number + 1) == []


def test_a_round_more_than_the_pattern_has(made: Made) -> None:
    chart = made[1]
    last = uses(chart)[5]
    again = replace(last, motions=())
    more = [*chart.elements[: last.number], again, *chart.elements[last.number :]]
    result = proof(made, renumbered(chart, more))
    assert any("has had all 3 rounds" in v.text for v in found(result, "order", last.number + 1))


LID = Tightening("lid", ("a", "b", "c"), (Stage(turns=1.0), Stage(torque=0.3), Stage(torque=2.0)))


@pytest.mark.parametrize(
    ("had", "screw", "first"),
    [
        ((0, 0, 0), "a", []),
        ((0, 0, 0), "b", ["a"]),
        ((1, 0, 0), "a", ["b", "c"]),
        ((1, 1, 0), "c", []),
        ((1, 1, 0), "a", ["c"]),
        ((1, 1, 1), "a", []),
        ((1, 1, 1), "c", ["a", "b"]),
        ((3, 3, 2), "c", []),
    ],
)
def test_whose_turn_it_is(had: tuple[int, ...], screw: str, first: list[str]) -> None:
    standing = Standing({}, {}, {}, {}, rounds=dict(zip(LID.screws, had, strict=True)))
    assert others_first(standing, LID, screw) == first


def test_what_is_held_down_when(made: Made) -> None:
    product = replace(made[0].product, tightenings=(LID,))
    for had, held in ((0, False), (1, False), (2, True), (3, True)):
        assert retains(product, Standing({}, {}, {}, {}, rounds={"a": had}), "a") is held
    assert not retains(product, Standing({}, {}, {}, {}), "pin-in-bore")
    assert retains(product, Standing({}, {}, {}, {}, done=("pin-in-bore",)), "pin-in-bore")
