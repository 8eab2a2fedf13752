"""Touches chosen for first-fit's hand-made chart, against the ledger of a chart that makes them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.uncertainty import first_fit_chart as c

from handfast.model.mate import Mate
from handfast.model.project import Project
from handfast.model.touch import Touch
from handfast.model.touch_demand import TouchDemand
from handfast.uncertainty.budget import budget
from handfast.uncertainty.choose_touches import Usable, choose_touches, demands_for
from handfast.uncertainty.fewest_touches import Choice
from handfast.uncertainty.jaws import Given
from handfast.uncertainty.outlook import Imagined, imagined
from handfast.uncertainty.sources import sources_of
from handfast.uncertainty.touch_candidates import Held, touch_force
from handfast.uncertainty.touch_scene import before_home
from handfast.uncertainty.walk import walk

TARGET = 0.999
PIN = "pin-in-bore"
# Nobody touches anything in this chart: the pin goes in in five of six builds.
BARE = c.chart(with_touch=False)


def pin_mate(**changes: object) -> Project:
    """First-fit with its first mate changed."""
    first, *others = c.PROJECT.product.mates
    mates = (replace(first, **changes), *others)  # type: ignore[arg-type]
    return replace(c.PROJECT, product=replace(c.PROJECT.product, mates=mates))


def choice(
    project: Project, target: float, excluded: tuple[Touch, ...] = (), usable: Usable | None = None
) -> Choice:
    mate = project.product.mate(PIN)
    before = before_home(BARE, mate)
    assert before is not None
    seen, sources = Imagined(BARE, c.hand_poses(BARE)), sources_of(project)
    entry = walk(Given(project, seen.chart, sources, seen.poses))[0]
    return choose_touches(project, seen, sources, entry, before, target, excluded, usable)


def coarse(sigma: float) -> Project:
    """First-fit with guarded moves that stop anywhere within some tenths of a millimetre."""
    errors = tuple(
        replace(e, sigma=(sigma, *e.sigma[1:])) if e.acts_on == "touch.right" else e for e in c.PROJECT.errors
    )
    return replace(c.PROJECT, errors=errors)


@pytest.mark.parametrize("project", [c.PROJECT, coarse(2.5e-4)], ids=["as written", "coarse touches"])
def test_the_ledger_of_a_chart_with_the_chosen_touches_says_what_was_foreseen(project: Project) -> None:
    found = choice(project, TARGET)
    assert found.held is not None
    assert found.touches
    before = before_home(BARE, project.product.mate(PIN))
    assert before is not None
    with_them = imagined(project, BARE, c.hand_poses(BARE), before, found.held, found.touches)
    row = budget(project, with_them.chart, "", with_them.poses).rows[0]
    assert len(row.touches) == len(found.touches)
    assert row.probability.low == pytest.approx(found.low, abs=1e-6)
    assert row.probability.low > row.probability_untouched.low + 0.05
    assert (row.probability.low >= TARGET) == (found.reason == "")


def test_no_fewer_touches_would_do() -> None:
    found = choice(c.PROJECT, TARGET)
    fewer = choice(pin_mate(most_touches=len(found.touches) - 1), TARGET) if len(found.touches) > 1 else None
    assert fewer is None or fewer.low < TARGET
    assert choice(c.PROJECT, 0.5).touches == ()


def test_what_the_engineer_forbids_is_not_touched() -> None:
    faces = {(t.part, t.feature) for t in choice(c.PROJECT, TARGET).touches}
    without = choice(pin_mate(untouchable=tuple(faces)), TARGET)
    assert not faces & {(t.part, t.feature) for t in without.touches}


def test_what_could_not_be_made_is_not_asked_for_again() -> None:
    found = choice(c.PROJECT, TARGET)
    again = choice(c.PROJECT, TARGET, excluded=found.touches)
    assert not set(found.touches) & set(again.touches)
    asked: list[Touch] = []

    def never(mate: Mate, touch: Touch) -> bool:
        asked.append(touch)
        return False

    none = choice(c.PROJECT, TARGET, usable=never)
    assert none.touches == ()
    assert none.reason in ("none of its touches can be made", "no further touch adds enough")
    assert len(asked) == len(set(asked))


def held(slip_force: float, slip_torque: float) -> Held:
    grasp = replace(c.GRASPS["right pin"], slip_force=slip_force, slip_torque=slip_torque)
    part = c.PROJECT.product.part("pin")
    # The hand sits 15 mm above the contact.
    return Held(part, c.T_PIN_HOME, -c.Z, "right", grasp, c.at(0, 0, 15), np.zeros((3, 3)))


@pytest.mark.parametrize(
    ("slip_force", "slip_torque", "expected"),
    [
        (54.0, 0.5, 2.0),  # more than enough: as gently as is felt well
        (3.0, 0.5, 1.5),  # half of what makes it slide
        (54.0, 0.03, 1.0),  # half of what makes it turn, over 15 mm
        (1.1, 0.5, None),  # 0.55 N could not be told from three times the noise of 0.2 N
    ],
)
def test_touches_push_with_less_than_half_of_what_the_grasp_holds(
    slip_force: float, slip_torque: float, expected: float | None
) -> None:
    found = touch_force(c.PROJECT, held(slip_force, slip_torque), np.zeros(3), c.X)
    assert found == (pytest.approx(expected) if expected is not None else None)


def test_demands_are_only_ever_added_to() -> None:
    first = demands_for(c.PROJECT, BARE, TARGET, poses=c.hand_poses(BARE))
    pin = next(d for d in first if d.mate == PIN)
    assert pin.touches
    lost = TouchDemand(PIN, (), excluded=pin.touches)
    second = next(
        d for d in demands_for(c.PROJECT, BARE, TARGET, (lost,), poses=c.hand_poses(BARE)) if d.mate == PIN
    )
    assert second.excluded == pin.touches
    assert not set(second.touches) & set(pin.touches)
