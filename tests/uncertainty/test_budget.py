from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from tests.uncertainty import first_fit_chart as c
from tests.uncertainty.true_build import Outcome, build

from handfast.model.chart import Chart
from handfast.model.error_source import ErrorSource, Six
from handfast.model.feature import Chamfer
from handfast.model.holder import Place
from handfast.model.ledger import Ledger, MateRow
from handfast.model.project import Project
from handfast.uncertainty.anew import gained_anew
from handfast.uncertainty.budget import budget
from handfast.uncertainty.jaws import Given
from handfast.uncertainty.refusal import ChainError, SourceError
from handfast.uncertainty.sources import sources_of

PROJECT = c.first_fit()


def ledger(project: Project = PROJECT, chart: Chart | None = None) -> Ledger:
    chart = chart or c.chart()
    return budget(project, chart, "sha", c.hand_poses(chart))


def row(of: Ledger, mate: str) -> MateRow:
    return next(r for r in of.rows if r.mate == mate)


def with_errors(*sources: ErrorSource) -> Project:
    return replace(PROJECT, errors=sources)


def without_slack(project: Project) -> Project:
    holders = tuple(
        replace(h, places=tuple(replace(p, slack=0.0, slack_angle=0.0) for p in h.places))
        for h in project.cell.holders
    )
    return replace(project, cell=replace(project.cell, holders=holders))


def with_part(part: str, feature: str, **changed: object) -> Project:
    product = PROJECT.product
    parts = tuple(
        replace(p, features=tuple(replace(f, **changed) if f.name == feature else f for f in p.features))  # type: ignore[arg-type]
        if p.name == part
        else p
        for p in product.parts
    )
    return replace(PROJECT, product=replace(product, parts=parts))


def with_mate(mate: str, **changed: object) -> Project:
    product = PROJECT.product
    mates = tuple(replace(m, **changed) if m.name == mate else m for m in product.mates)  # type: ignore[arg-type]
    return replace(PROJECT, product=replace(product, mates=mates))


def with_half(source: str, project: Project = PROJECT) -> Project:
    """One source, written or drawn, half as large."""
    holders = tuple(
        replace(h, places=tuple(_half_slack(p, f"{h.name}.{p.name}", source) for p in h.places))
        for h in project.cell.holders
    )
    errors = tuple(replace(s, sigma=times(s, 0.5)) if s.name == source else s for s in project.errors)
    changed = replace(project, cell=replace(project.cell, holders=holders), errors=errors)
    assert changed != project, source
    return changed


def _half_slack(place: Place, path: str, source: str) -> Place:
    wanted = source == f"slack of place {path}"
    return replace(place, slack=place.slack / 2, slack_angle=place.slack_angle / 2) if wanted else place


def times(source: ErrorSource, factor: float) -> Six:
    x, y, z, a, b, c = (v * factor for v in source.sigma)
    return x, y, z, a, b, c


def test_one_row_for_each_mate_in_the_order_of_the_chart() -> None:
    found = ledger()
    assert [r.mate for r in found.rows] == ["pin-in-bore", "cover-on-block", "cover-screw"]
    assert not found.not_budgeted
    assert found.chart_sha256 == "sha"


def test_the_same_inputs_give_the_same_ledger() -> None:
    assert ledger() == ledger()


def test_fits_and_capture_are_those_of_the_drawing() -> None:
    """8 H7/g6: +5/+29 um; 8 E9/g6: +30/+75 um (ISO 286-1, 6-10 mm); capture W + cR with both chamfers
    (geometry).
    """
    pin, cover = (row(ledger(), m) for m in ("pin-in-bore", "cover-on-block"))
    assert (pin.clearance_min, pin.clearance_max) == pytest.approx((5e-6, 29e-6), abs=1e-12)
    assert (cover.clearance_min, cover.clearance_max) == pytest.approx((30e-6, 75e-6), abs=1e-12)
    # Chamfers: bore 0.5 mm, none on the tip; cover hole 0.5 mm, pin top 0.8 mm. Clearance near its smallest.
    assert 0.5e-3 + 2.5e-6 <= pin.allowed <= 0.5e-3 + 8.5e-6
    assert cover.allowed <= 1.3e-3 + 37.5e-6


def test_shares_make_up_the_whole_and_each_source_stands_once() -> None:
    for r in ledger().rows:
        assert sum(k.share for k in r.contributors) == pytest.approx(1.0, rel=1e-9)
        assert len({k.source for k in r.contributors}) == len(r.contributors)
        assert sum(k.sigma**2 for k in r.contributors) == pytest.approx(r.after.sigma_major**2, rel=1e-9)
        assert [k.share for k in r.contributors] == sorted((k.share for k in r.contributors), reverse=True)


def test_the_arm_that_took_the_part_and_goes_home_with_it_counts_once() -> None:
    """The right arm alone: its base enters where it takes the pin over, touches and inserts, as one error."""
    base = next(s for s in PROJECT.errors if s.acts_on == "arm.right.base")
    (found,) = row(
        ledger(without_slack(with_errors(base)), c.chart(with_touch=False)), "pin-in-bore"
    ).contributors[:1]
    assert found.source == base.name
    assert found.share == pytest.approx(1.0)
    assert found.appearances == 2
    # Closed freedoms follow the arm: 0.05 mm and 0.005 deg over 0.7 m, once.
    # Two independent errors would give 1.4 times that.
    once = np.hypot(base.sigma[0], 0.68 * base.sigma[5])
    assert 0.9 * once < found.sigma < 1.1 * once


def test_what_stays_until_recalibration_is_kept_apart() -> None:
    for r in ledger().rows:
        within, between, after = (np.array(s.covariance) for s in (r.within, r.between_cells, r.after))
        np.testing.assert_allclose(within + between, after, rtol=1e-9, atol=1e-18)
        assert r.between_cells.sigma_major > 1e-5
        assert r.probability_within.low >= r.probability.low
    arms = tuple(replace(s, changes="shift") if s.changes == "installation" else s for s in PROJECT.errors)
    for r in ledger(with_errors(*arms)).rows:
        assert r.between_cells.sigma_major == 0
        assert r.within.covariance == r.after.covariance


def test_without_the_touch_the_pin_is_far_less_certain_and_the_row_says_so() -> None:
    found = row(ledger(), "pin-in-bore")
    assert found.touches == (next(e.id for e in c.chart().elements if e.kind == "locate"),)
    assert found.probability_untouched.high < 0.9 < 0.995 < found.probability.low
    assert found.before.sigma_major > 3 * found.after.sigma_major
    bare = row(ledger(chart=c.chart(with_touch=False)), "pin-in-bore")
    assert bare.after == bare.before
    assert bare.touches == ()
    assert bare.probability == bare.probability_untouched
    assert bare.probability.low == pytest.approx(found.probability_untouched.low, abs=1e-12)


def screw_goes_in(true: Outcome) -> np.ndarray:
    """0.25 mm of room about an M4 in 4.5 mm; 0.4 mm of lead-in in the block (product.yaml)."""
    off = {n: np.hypot(*getattr(true, n)[:, :2].T) for n in ("screw_in_cover", "thread_under_cover", "screw")}
    inside = (off["screw_in_cover"] < 0.25e-3) & (off["thread_under_cover"] < 0.25e-3)
    return np.asarray(inside & (off["screw"] < 0.4e-3))


def test_the_chance_of_the_screw_is_that_of_true_builds() -> None:
    """All conditions counted in true builds: within the band and three standard errors of sampling."""
    gains = {u.mate: np.array(u.gain) for u in ledger().updates}
    found = row(ledger(), "cover-screw").probability
    true = build(PROJECT, 20_000, seed=21, gains=gains)
    good = screw_goes_in(true)
    error = 3 * np.sqrt(found.low * (1 - found.low) / len(good))
    assert 0.5 < found.low < 0.9999, "a rate that twenty thousand builds can tell"
    assert found.low - error < good.mean() < found.high + error


def test_a_chamfer_on_the_hole_helps_the_screw() -> None:
    before = row(ledger(), "cover-screw")
    after = row(ledger(with_part("cover", "screw_hole", chamfer=Chamfer(0.3e-3, 0.785))), "cover-screw")
    assert before.probability.low < 0.95
    assert after.probability.low > before.probability.low + 0.05


@pytest.mark.parametrize(("mate", "least", "most"), [("pin-in-bore", 0.9, 1.1), ("cover-screw", 0.7, 1.25)])
def test_halving_a_source_gains_what_the_row_says(mate: str, least: float, most: float) -> None:
    """Against a ledger made anew with that source halved, for the three that gain most: the same gain within
    a tenth for the mate that the touch serves. The screw's row keeps what earlier mates trusted the touch
    with, and is an estimate: right jaws 0.069 where a new ledger says 0.058 (measured, chart by hand). The
    errors are larger than they are, so that the pin may fail.
    """
    project = replace(PROJECT, errors=tuple(replace(s, sigma=times(s, 3)) for s in PROJECT.errors))
    found = row(ledger(project), mate)
    best = sorted(found.contributors, key=lambda k: -k.gained_if_halved)[:3]
    assert best[0].gained_if_halved > 0.004
    for k in best:
        anew = row(ledger(with_half(k.source, project)), mate)
        gain = anew.probability.low - found.probability.low
        assert least * gain - 1e-3 < k.gained_if_halved < most * gain + 1e-3, k.source


def test_worked_out_anew_the_gain_of_half_a_source_is_exact() -> None:
    """Where the estimate is furthest off: the screw, which shares its touch with the pin."""
    project = replace(PROJECT, errors=tuple(replace(s, sigma=times(s, 3)) for s in PROJECT.errors))
    found = row(ledger(project), "cover-screw")
    names = [k.source for k in sorted(found.contributors, key=lambda k: -k.gained_if_halved)[:3]]
    given = Given(project, c.chart(), sources_of(project), c.hand_poses(c.chart()))
    told = {k.source: k for k in gained_anew(given, found, names).contributors}
    off = []
    for name in names:
        anew = row(ledger(with_half(name, project)), "cover-screw").probability.low - found.probability.low
        assert told[name].exact
        assert told[name].gained_if_halved == pytest.approx(anew, abs=1e-9)
        off.append(abs(next(k.gained_if_halved for k in found.contributors if k.source == name) - anew))
    assert max(off) > 0.005, "the case in which an estimate is not good enough"


def test_without_any_source_only_the_play_of_the_fits_is_left() -> None:
    found = ledger(without_slack(with_errors()))
    for r in found.rows:
        assert r.probability.low > 1 - 1e-5, r.mate
        assert all(k.source.startswith("play in ") for k in r.contributors)
        # 75 um of diametral clearance and 29 um over 20 mm, 20 mm further up: a disc of 70 um at most.
        assert r.after.sigma_major <= 70e-6 / 2
        assert np.isfinite(r.margin_ratio)


@pytest.mark.parametrize(
    ("project", "reason"),
    [
        (with_part("pin", "tip", fit="p6"), "it has to be pressed"),
        (with_mate("pin-in-bore", kind="ring"), "found a ring"),
        (with_mate("pin-in-bore", kind="gear-mesh"), "a pair of gears"),
    ],
)
def test_a_mate_without_a_budget_counts_as_not_shown(project: Project, reason: str) -> None:
    found = ledger(project)
    assert [name for name, _ in found.not_budgeted] == ["pin-in-bore"]
    assert reason in found.not_budgeted[0][1]
    assert found.build_yield.low == 0
    assert found.build_yield.model_dependent
    assert [r.mate for r in found.rows] == ["cover-on-block", "cover-screw"]


def test_in_order_and_whole_are_those_of_true_builds() -> None:
    """Untouched, where mates fail often and for the same cause: counted in true builds, one after another.

    Pin: 0.5 mm of chamfer and the clearance, known to 12 um; cover: what the row allows; screw: as below.
    """
    book = ledger()
    pin, cover, screw = book.rows
    true = build(PROJECT, 20_000, seed=22)
    off = {n: np.hypot(*getattr(true, n)[:, :2].T) for n in ("pin", "cover")}
    pin_in, cover_in = off["pin"] < 0.5085e-3, off["cover"] < cover.allowed
    screw_in = screw_goes_in(true)
    before = pin_in & cover_in
    error = 4 * np.sqrt(0.25 / np.count_nonzero(before)) + 4 * np.sqrt(0.25 / 20_000)
    assert screw.in_order_untouched.low == pytest.approx(screw_in[before].mean(), abs=error)
    assert abs(screw_in[before].mean() - screw_in.mean()) > 2 * error, "the mates must hang together"
    assert pin.in_order_untouched.low == pytest.approx(pin.probability_untouched.low, abs=0.01)
    assert book.build_yield_untouched.low == pytest.approx((before & screw_in).mean(), abs=error)


def test_the_first_mate_goes_in_as_its_row_says_and_none_is_certain() -> None:
    for r in ledger().rows:
        assert 0 < r.in_order.low <= r.in_order.high < 1
    first = ledger().rows[0]
    # With the touch it never fails in 20 480 builds: half a build is counted, not a certainty.
    assert first.in_order.high == pytest.approx(1 - 0.5 / 20_481, abs=1e-9)
    # Twenty thousand builds: four standard errors.
    p = first.probability_untouched.low
    assert first.in_order_untouched.low == pytest.approx(p, abs=4 * np.sqrt(p * (1 - p) / 20_480) + 1e-3)


def test_the_build_yield_lies_within_what_must_hold_however_the_mates_hang_together() -> None:
    found = ledger()
    lows = [r.probability.low for r in found.rows]
    assert 1 - sum(1 - p for p in lows) - 1e-12 <= found.build_yield.low <= min(lows) + 1e-12
    assert found.build_yield_untouched.high < found.build_yield.low


def test_the_verdict_is_one_plain_sentence() -> None:
    for r in ledger().rows:
        assert r.verdict.endswith(".")
        assert re.search(r"\d %", r.verdict)
        assert len(r.verdict) < 300
    worse = replace(PROJECT, target=0.9999999)
    assert row(ledger(worse), "cover-screw").verdict.startswith("Not certain enough")
    assert "without: 8" in row(ledger(), "pin-in-bore").verdict


def test_a_chart_that_cannot_be_followed_is_refused_with_its_element() -> None:
    chart = c.chart()
    with pytest.raises(ChainError, match=r"locate-right.*no motions"):
        budget(PROJECT, chart, "", {k: v for k, v in c.hand_poses(chart).items() if "locate" not in k})
    with pytest.raises(ChainError, match="its last move has no motions"):
        budget(PROJECT, chart, "", {})
    idle = replace(chart, elements=tuple(e for e in chart.elements if e.kind != "grasp"))
    with pytest.raises(ChainError, match="expected hand 'right' to hold 'pin', found nothing"):
        budget(PROJECT, idle, "", c.hand_poses(chart))
    moved = with_part(
        "block",
        "bore",
        frame=replace(PROJECT.product.part("block").feature("bore").frame, position=(0.0, 0.0, 0.03)),
    )
    with pytest.raises(ChainError, match=r"28.000 mm beside it"):
        ledger(moved)


def test_a_source_that_cannot_be_used_stops_the_budget() -> None:
    with pytest.raises(SourceError, match="error source 'odd'"):
        ledger(with_errors(ErrorSource("odd", "arm.middle.base", (1e-4,) * 6, "shift")))


def test_touches_without_noise_that_repeat_each_other_are_refused_by_name() -> None:
    """Nothing that changes per cycle, so a second touch of the same face reads what the first one did."""
    still = replace(PROJECT, errors=tuple(s for s in PROJECT.errors if s.changes != "cycle"))
    once = c.chart()
    at = next(i for i, e in enumerate(once.elements) if e.kind == "locate")
    again = replace(once.elements[at], id="again")
    twice = replace(once, elements=(*once.elements[: at + 1], again, *once.elements[at + 1 :]))
    poses = {**c.hand_poses(once), "again": c.hand_poses(once)[once.elements[at].id]}
    with pytest.raises(ChainError, match=r"told apart, found .*again.* without any noise"):
        budget(still, twice, "sha", poses)
    assert budget(PROJECT, twice, "sha", poses).rows[0].touches == (once.elements[at].id, "again")
