"""What touches would leave of a mate's deviation, for any set of candidates.

All that is asked of a mate is linear in independent unit draws, and so is what each touch would read. With

    b = requirements - shift raw,     e = raw - K readings,     requirements after = b + shift e,

where `shift` is what moving the part does to a requirement and K the gain for the first pair's deviation
`raw`, the covariance of b and e given the readings says everything.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from handfast.belief.update import gain_of_draws
from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.mate import Mate
from handfast.model.project import Project
from handfast.model.touch import Touch
from handfast.spatial.se3 import Array
from handfast.uncertainty.conditions_of import conditions_of
from handfast.uncertainty.exchange import Joint
from handfast.uncertainty.hand_poses import HandPoses
from handfast.uncertainty.jaws import Given
from handfast.uncertainty.judge import Question, question
from handfast.uncertainty.sources import Sources
from handfast.uncertainty.touch_candidates import Held
from handfast.uncertainty.touch_scene import Before, standing_pose
from handfast.uncertainty.walk import walk


@dataclass(frozen=True, eq=False, slots=True)
class Outlook:
    """asked: of the mate with every candidate read; rows (2 k, c), raw (6, c), readings (r, c): unit
    draws to the requirements, the first pair's deviation and the readings, before any touch; first:
    which reading belongs to the first candidate; those before it are of touches that the chart already
    makes.
    """

    asked: Question
    rows: Array
    raw: Array
    readings: Array
    first: int

    @property
    def made(self) -> tuple[int, ...]:
        """Readings of touches that the chart already makes."""
        return tuple(range(self.first))

    def only(self, kept: tuple[int, ...]) -> Outlook:
        """With some of the candidates, by number."""
        order = [*self.made, *(self.first + i for i in kept)]
        return replace(self, readings=self.readings[order])

    def joint(self) -> Joint:
        """Of b and raw with the readings; no candidate is read twice, so none has noise of its own."""
        wanted = np.vstack([self.rows - self.asked.shift @ self.raw, self.raw])
        R = self.readings
        return Joint(wanted @ wanted.T, wanted @ R.T, R @ R.T, np.zeros(len(R)))

    def after(self, chosen: tuple[int, ...]) -> Question:
        """The question with these readings, and no others, taken back."""
        rows, gain = self.rows, np.zeros((6, 0))
        if chosen:
            R = self.readings[list(chosen)]
            gain = gain_of_draws(self.raw, R)[0]
            rows = rows - self.asked.shift @ gain @ R
        draws = self.asked.draws
        kept = np.vstack([self.raw, self.readings[list(chosen)]])
        mean = np.concatenate([draws.mean[:6], np.zeros(len(chosen))])
        return replace(self.asked, rows=rows, draws=replace(draws, matrix=kept, mean=mean), gain=gain)


def outlook(
    project: Project,
    chart: Chart,
    sources: Sources,
    poses: HandPoses,
    mate: Mate,
    before: Before,
    held: Held,
    touches: tuple[Touch, ...],
) -> Outlook:
    """The chart walked with every candidate made just before the part goes home. Raises BudgetError for
    a mate without a budget.
    """
    tried = imagined(project, chart, poses, before, held, touches)
    new = {e.id for e in tried.chart.elements} - {e.id for e in chart.elements}
    # The bit may come back to a screw after it has started: that counts, too.
    last = [e for e in chart.elements if e.mate == mate.name and e.kind in ("assemble", "use")][-1]
    entries = walk(Given(project, tried.chart, sources, tried.poses), last.id)
    entry = next(e for e in entries if e.mate.name == mate.name)
    asked = question(entry, conditions_of(project, entry), sources)
    raw, readings = asked.draws.matrix[:6], asked.draws.matrix[6:]
    rows = asked.rows + asked.shift @ asked.gain @ readings
    # Candidates stand in the chart, and so among the readings, in their own order.
    made = [i for i, r in enumerate(entry.readings) if r.element not in new]
    tries = [i for i, r in enumerate(entry.readings) if r.element in new]
    return Outlook(asked, rows, raw, readings[made + tries], len(made))


@dataclass(frozen=True, eq=False, slots=True)
class Imagined:
    """A chart with touches that nobody has planned yet, and where the hands stop."""

    chart: Chart
    poses: HandPoses


def imagined(
    project: Project, chart: Chart, poses: HandPoses, before: Before, held: Held, touches: tuple[Touch, ...]
) -> Imagined:
    """The touches made just before the part goes home."""
    tried = tuple(_element(before, touch, i) for i, touch in enumerate(touches))
    at = chart.elements.index(before.element)
    elements = (*chart.elements[:at], *tried, *chart.elements[at:])
    contacts = {e.id: _contact(project, before, held, t) for e, t in zip(tried, touches, strict=True)}
    return Imagined(replace(chart, elements=elements), {**poses, **contacts})


def _element(before: Before, touch: Touch, number: int) -> Element:
    e = before.element
    return replace(
        e,
        id=f"{e.id}/touch {number}",
        kind="locate",
        touch=touch,
        leaves=None,
        grasp=None,
        motions=(),
        guarded=None,
    )


def _contact(project: Project, before: Before, held: Held, touch: Touch) -> Array:
    """T_world_grip where contact is expected."""
    T_world_part = standing_pose(project, before.scene, touch.part)
    if T_world_part is None or touch.contact is None:
        raise ValueError(
            f"touch of {touch.part}.{touch.feature}: expected a part that stands, and how it is met"
        )
    frame = project.product.part(touch.part).feature(touch.feature).frame.matrix
    return np.asarray(T_world_part @ frame @ touch.contact.matrix @ held.T_part_grip)
