"""How screws, pressed parts and closing jaws may end, against draws, tables and sums by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.uncertainty import first_fit_chart as c
from tests.uncertainty.test_budget import PROJECT, ledger, row, times, with_part

from handfast.model.error_source import ErrorSource
from handfast.model.feature import Chamfer, Feature, Lot
from handfast.model.ledger import MateRow
from handfast.model.project import Project
from handfast.standards.property_classes import proof_load, property_class
from handfast.standards.threads import coarse_thread
from handfast.uncertainty.after_entry import SHEAR, thread_bears
from handfast.uncertainty.closing import closing
from handfast.uncertainty.error_form import Form
from handfast.uncertainty.instances import Instance
from handfast.uncertainty.jaws import Given
from handfast.uncertainty.press_condition import press_force
from handfast.uncertainty.sources import sources_of
from handfast.uncertainty.walk import walk

SCREW = ("ok", "not started", "crossed", "stripped", "bottomed")


def ends(of: MateRow) -> dict[str, float]:
    return {o.name: o.probability for o in of.outcomes}


def screw(project: Project) -> MateRow:
    return row(ledger(project), "cover-screw")


def test_what_a_screw_may_come_to_is_one_together() -> None:
    found = screw(PROJECT)
    assert tuple(ends(found)) == SCREW
    assert sum(ends(found).values()) == pytest.approx(1.0)
    assert ends(found)["ok"] == pytest.approx(found.probability.low)
    assert ends(found)["not started"] > 0.05 > ends(found)["crossed"]


def test_a_bit_that_runs_out_of_line_crosses_threads() -> None:
    """Only the bit leans: each way by 3.5 deg (one sigma), and half a pitch over the diameter is 5 deg for
    M4. Rayleigh: exp(-(5.0/3.5)^2/2)."""
    bit = replace(
        PROJECT.errors[0], name="leans", acts_on="tool.driver.bit", changes="part",
        sigma=(0, 0, 0, math.radians(3.5), math.radians(3.5), 0),
    )  # fmt: skip
    # The point's lever would make it miss first: a hole and a lead-in that are wide enough.
    wide = with_part("cover", "screw_hole", diameter=0.03)
    parts = tuple(
        replace(p, features=tuple(_with_lead_in(f) for f in p.features)) if p.name == "block" else p
        for p in wide.product.parts
    )
    project = replace(wide, product=replace(wide.product, parts=parts), errors=(bit,))
    found = ends(screw(project))
    limit = math.atan(0.5 * 0.7 / 4)
    assert found["not started"] < 1e-4
    assert found["crossed"] == pytest.approx(math.exp(-0.5 * (limit / math.radians(3.5)) ** 2), rel=0.03)


def _with_lead_in(feature: Feature) -> Feature:
    return replace(feature, chamfer=Chamfer(0.012, 0.8)) if feature.kind == "thread" else feature


def test_a_torque_that_the_screw_bears_at_half_of_all_frictions_strips_the_other_half() -> None:
    """At friction 0.12 (the middle of what is drawn) a torque T gives the proof load of M4 A2-70, 8.78 mm2
    times 450 MPa; less friction gives more. T by hand: F (P/(2 pi) + 0.577 d2 mu + D_Km/2 mu), D_Km of a face
    6.53 across (ISO 4762) over a 4.5 mm hole; d2 3.545 mm (ISO 724)."""
    part = PROJECT.product.mate("cover-screw").part
    load = 8.78e-6 * 450e6
    torque = load * (0.7e-3 / (2 * math.pi) + 0.5774 * 3.545e-3 * 0.12 + 0.5 * (6.53e-3 + 4.5e-3) / 2 * 0.12)
    parts = tuple(replace(p, friction=0.12) if p.name == part else p for p in PROJECT.product.parts)
    oiled = replace(PROJECT, product=replace(PROJECT.product, parts=parts))
    mates = tuple(replace(m, torque=torque) if m.name == "cover-screw" else m for m in oiled.product.mates)
    found = screw(replace(oiled, product=replace(oiled.product, mates=mates)))
    started = ends(found)["ok"] + ends(found)["stripped"] + ends(found)["bottomed"]
    assert ends(found)["stripped"] / started == pytest.approx(0.5, abs=0.02)
    assert found.probability.low == pytest.approx(ends(found)["ok"])
    assert found.in_order.high < 0.6, "builds drawn jointly strip as often"
    assert ends(screw(PROJECT))["stripped"] == 0.0


def test_a_thread_of_few_turns_strips_before_its_screw() -> None:
    """M4 over 1.4 mm, two turns: sheared area pi d (m/P)(P/2 + (d - d2) tan 30) = 15.4 mm2 by hand."""
    thread = coarse_thread("M4")
    assert thread_bears(thread, 1.4e-3) == pytest.approx(15.4e-6 * SHEAR, rel=0.01)
    assert thread_bears(thread, 1.4e-3) < proof_load(thread, property_class("A2-70"))


def test_a_screw_as_long_as_its_hole_is_deep_bottoms_every_other_time() -> None:
    pair = PROJECT.product.mate("cover-screw").pairs[0]
    flush = with_part("block", "tapped", length=abs(pair.depth))
    found = ends(screw(flush))
    assert found["bottomed"] / (found["ok"] + found["bottomed"]) == pytest.approx(0.5)
    assert ends(screw(PROJECT))["bottomed"] < 1e-6


def pressed(**changed: object) -> MateRow:
    """The pin as 8 p6 in 8 H7: +15/+24 um in 0/+15 um, so 0 to 24 um of interference (ISO 286-1)."""
    project = with_part("pin", "tip", fit="p6")
    mates = tuple(
        replace(m, kind="press", **changed) if m.name == "pin-in-bore" else m  # type: ignore[arg-type]
        for m in project.product.mates
    )
    return row(ledger(replace(project, product=replace(project.product, mates=mates))), "pin-in-bore")


def test_a_force_that_the_hand_cannot_give_is_said() -> None:
    found = pressed()
    assert found.pressing is not None
    pin = PROJECT.product.part("pin")
    mu = 4 / 3 * 0.5 * (pin.friction + PROJECT.product.part("block").friction)
    length = min(abs(PROJECT.product.mate("pin-in-bore").pairs[0].depth), pin.feature("tip").length or 1)
    # p = Z E/(2 D) for steel in a large steel body: 24 um on 8 mm are 315 MPa, by hand.
    assert found.pressing.most == pytest.approx(mu * 315e6 * math.pi * 8e-3 * length, rel=1e-6)
    assert found.pressing.limit <= 50
    assert found.probability.low < 0.03
    assert "pressing takes" in found.verdict
    assert "a press, or a looser fit" in found.verdict
    assert found.in_order.low < 0.03


def test_how_often_the_force_is_enough_is_that_of_drawn_sizes() -> None:
    """With a grasp that would hold: hole and pin each normal, limits at three sigma; counted."""
    found = pressed(force_limit=27.0)
    assert found.pressing is not None
    assert found.pressing.limit == 27.0, "half of the grasp's slip"
    rng, n = np.random.default_rng(8), 400_000
    interference = rng.normal(19.5e-6, 1.5e-6, n) - rng.normal(7.5e-6, 2.5e-6, n)
    per_metre = found.pressing.most / 24e-6
    counted = float(np.mean(per_metre * interference <= 27.0))
    under = {o.name: o.probability for o in found.outcomes}
    placed = 1 - under["not started"]
    assert under["ok"] / placed == pytest.approx(counted, abs=3 * math.sqrt(counted / n) + 1e-5)
    assert sum(under.values()) == pytest.approx(1.0)


def test_a_press_gets_in_as_many_as_drawn_sizes_say() -> None:
    """12 kN: what 12 um take, the middle of 0 to 24, is more with four thirds of the friction and less with
    two thirds. Hole and pin each normal, limits at three sigma; counted."""
    project = with_part("pin", "tip", fit="p6")
    mates = tuple(
        replace(m, kind="press", force_limit=12000.0) if m.name == "pin-in-bore" else m
        for m in project.product.mates
    )
    project = replace(project, product=replace(project.product, mates=mates))
    chart = c.chart()
    entry = walk(Given(project, chart, sources_of(project), c.hand_poses(chart)))[0]
    found = press_force(project.product, replace(entry, slip_force=1e5))
    assert found is not None
    assert found.limit == 12000.0
    rng, n = np.random.default_rng(9), 400_000
    interference = rng.normal(19.5e-6, 1.5e-6, n) - rng.normal(7.5e-6, 2.5e-6, n)
    hard = found.most / 24e-6
    for told, per_metre in ((found.sure, hard), (found.other, hard / 2)):
        counted = float(np.mean(per_metre * interference <= 12000.0))
        assert told == pytest.approx(counted, abs=0.003)
    assert 0.1 < found.sure < 0.3
    assert 0.95 < found.other < 0.995


def test_without_a_lead_in_wider_than_half_the_interference_it_is_not_shown() -> None:
    project = with_part("pin", "tip", fit="p6", chamfer=Chamfer(5e-6, 0.8))
    project = replace(
        project,
        product=replace(
            project.product,
            parts=tuple(
                replace(
                    p, features=tuple(replace(f, chamfer=None) if f.name == "bore" else f for f in p.features)
                )
                for p in project.product.parts
            ),
            mates=tuple(
                replace(m, kind="press") if m.name == "pin-in-bore" else m for m in project.product.mates
            ),
        ),
    )
    ((mate, reason),) = ledger(project).not_budgeted
    assert mate == "pin-in-bore"
    assert "a lead-in wider than half the interference" in reason


def test_jaws_slide_catch_or_miss_as_often_as_draws_do() -> None:
    """Normal offsets in the jaws; the pads 8 mm above the part's width apart, as wide and long as the
    gripper's."""
    chart = c.chart()
    element = next(e for e in chart.elements if e.kind == "grasp" and e.hand == "left")
    assert element.grasp is not None
    gripper = PROJECT.cell.gripper_of("left")
    zone = next(z for z in gripper.zones if z.name == element.grasp.zone)
    before = replace(chart.elements[0], hand="left", opening=element.grasp.width + 8e-3)
    opened = replace(chart, elements=(before, *chart.elements[1:]))
    sigma = np.array([4e-3, 3e-3, 5e-3, 0, 0, 0])
    key = Instance("one")
    form = Form({key: np.diag(sigma)}, np.zeros(6), {key: frozenset()})
    found = closing(opened, element.id, gripper, form, lambda _: np.ones(6))
    room = np.array([gripper.finger_size[0] / 2, 4e-3, (zone.end - zone.start) / 2])
    beyond = [math.erfc(r / s / math.sqrt(2)) for r, s in zip(room, sigma, strict=False)]
    assert found.catch == pytest.approx(beyond[1])
    assert found.miss == pytest.approx(beyond[0] + beyond[2])
    assert found.slide == pytest.approx(1 - found.catch - found.miss)
    assert 0.1 < found.slide < 0.9


def test_what_the_jaws_set_errs_as_they_do_and_the_rest_stays_as_it_lay() -> None:
    """By hand: a pin that lies off by 1, 2, 3 mm in its place, jaws off by 0.1 mm each way, all else
    exact."""
    lies, off = (1e-3, 2e-3, 3e-3, 0.0, 0.0, 0.0), (1e-4, 1e-4, 1e-4, 0.0, 0.0, 0.0)
    sources = (
        ErrorSource("lies", "place.tray.pin", lies, "part"),
        ErrorSource("jaws", "gripper.left_gripper.jaw", off, "installation"),
        ErrorSource("other jaws", "gripper.right_gripper.jaw", off, "installation"),
    )
    chart = c.chart()
    first = next(e for e in chart.elements if e.kind == "grasp" and e.object == "pin")
    assert first.grasp is not None
    project = replace(PROJECT, errors=sources)
    found = walk(Given(project, chart, sources_of(project), c.hand_poses(chart)))
    closings = next(e for e in found if e.mate.name == "pin-in-bore").closings
    told = next(x for x in closings if x.element == first.id)
    R = first.grasp.T_grip_part.matrix[:3, :3]
    lay = R @ np.diag(np.array(lies[:3]) ** 2) @ R.T
    np.testing.assert_allclose(told.before, lay, atol=1e-15)
    closed = np.array(first.grasp.closed[:3])
    assert 0 < closed.sum() < 3
    for i in range(3):
        assert told.after[i][i] == pytest.approx(1e-8 if closed[i] else lay[i, i])


def test_parts_that_lie_too_far_off_for_the_jaws_lower_the_chance_of_their_mate() -> None:
    off = (replace(s, sigma=times(s, 40)) if s.acts_on == "holder.tray" else s for s in PROJECT.errors)
    far = replace(PROJECT, errors=tuple(off))
    now, then = (row(ledger(p), "cover-on-block") for p in (PROJECT, far))
    slide = {j.element: {o.name: o.probability for o in j.outcomes} for j in then.jaws}
    (cover,) = slide.values()
    assert cover["slide"] < 0.98
    assert sum(cover.values()) == pytest.approx(1.0)
    assert then.probability.high <= cover["slide"]
    assert all(o.probability == 1.0 for j in now.jaws for o in j.outcomes if o.name == "slide")


def test_burrs_and_missing_chamfers_take_their_share_of_the_sure_end_and_nothing_of_the_other() -> None:
    """One part in fifty with a burr on the bore, one in a hundred without the chamfer of the pin: 0.98 x
    0.99."""
    now = row(ledger(), "pin-in-bore")
    product = with_part("pin", "tip", lot=Lot(missing_chamfers=0.01)).product
    parts = tuple(
        replace(
            p, features=tuple(replace(f, lot=Lot(burrs=0.02)) if f.name == "bore" else f for f in p.features)
        )
        for p in product.parts
    )
    found = ledger(replace(PROJECT, product=replace(product, parts=parts)))
    then = row(found, "pin-in-bore")
    assert then.probability.low == pytest.approx(0.98 * 0.99 * now.probability.low, rel=1e-6)
    assert then.probability.high == pytest.approx(now.probability.high)
    assert then.in_order.low == pytest.approx(0.98 * 0.99 * now.in_order.low, abs=0.003)
    # The cover has its own features, so only what the pin did to it is left.
    assert row(found, "cover-on-block").probability == row(ledger(), "cover-on-block").probability
    rough = with_part("screw", "shank", lot=Lot(burrs=0.1))
    told = ends(screw(rough))
    assert sum(told.values()) == pytest.approx(1.0)
    assert told["ok"] == pytest.approx(0.9 * ends(screw(PROJECT))["ok"])
