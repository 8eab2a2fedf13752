"""Touches that would make mates certain enough: as few as do it, chosen together."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from handfast.belief.covariance import CovarianceError
from handfast.model.chart import Chart
from handfast.model.mate import Mate
from handfast.model.project import Project
from handfast.model.touch import Touch
from handfast.model.touch_demand import TouchDemand
from handfast.uncertainty.assemblable import share_of_lots, together
from handfast.uncertainty.conditions_of import conditions_of
from handfast.uncertainty.entry import Entry
from handfast.uncertainty.error_form import covariance
from handfast.uncertainty.fewest_touches import Choice, fewest
from handfast.uncertainty.hand_poses import HandPoses, hand_poses
from handfast.uncertainty.jaws import Given
from handfast.uncertainty.judge import judge, question
from handfast.uncertainty.outlook import Imagined, Outlook, imagined, outlook
from handfast.uncertainty.refusal import BudgetError
from handfast.uncertainty.sources import Sources, sources_of
from handfast.uncertainty.touch_candidates import touch_candidates
from handfast.uncertainty.touch_scene import Before, before_home, held_before, targets_of
from handfast.uncertainty.walk import walk

Usable = Callable[[Mate, Touch], bool]
_NONE_MADE = "none of its touches can be made"


def demands_for(
    project: Project,
    chart: Chart,
    target: float,
    before: tuple[TouchDemand, ...] = (),
    usable: Usable | None = None,
    poses: HandPoses | None = None,
) -> tuple[TouchDemand, ...]:
    """What is demanded of the next plan so that every mate reaches `target` at the sure end of its chance.

    before: what was demanded of this chart, with what could not be made; only ever added to. Mates are
    gone through in the order of the chart; what one touch shows about a later mate is counted there. poses:
    as for `budget`.
    """
    sources = sources_of(project)
    seen = Imagined(chart, hand_poses(project, chart) if poses is None else poses)
    known = {d.mate: d for d in before}
    entries = walk(Given(project, seen.chart, sources, seen.poses))
    for name in chart.mates:
        mate, old = project.product.mate(name), known.get(name, TouchDemand(name, ()))
        scene = before_home(chart, mate)
        if scene is None:
            continue
        try:
            entry = next(e for e in entries if e.mate.name == name)
            choice = choose_touches(project, seen, sources, entry, scene, target, old.excluded, usable)
        except BudgetError as why:
            choice = Choice((), None, 0.0, f"no touch helps: {why}")
        known[name] = replace(old, touches=(*old.touches, *choice.touches), reason=choice.reason)
        if choice.held is not None and choice.touches:
            seen = imagined(project, seen.chart, seen.poses, scene, choice.held, choice.touches)
            entries = walk(Given(project, seen.chart, sources, seen.poses))
    return tuple(d for d in known.values() if d.touches or d.excluded or d.reason)


def choose_touches(
    project: Project,
    seen: Imagined,
    sources: Sources,
    entry: Entry,
    before: Before,
    target: float,
    excluded: tuple[Touch, ...] = (),
    usable: Usable | None = None,
) -> Choice:
    """The fewest touches, beside those that the chart makes, with which a mate reaches `target` at the
    sure end.

    entry: of the mate in the chart as it is; excluded: touches that could not be made; usable: whether a
    touch is worth trying at all. Raises BudgetError for a mate without a budget.
    """
    mate = entry.mate
    asked = question(entry, conditions_of(project, entry), sources)
    parts = together(project.product, entry, sources)
    share = 1.0 if parts is None else share_of_lots(parts, sources)
    wanted, now = target + 1 - share, judge(asked).band.low
    if now >= wanted:
        return Choice((), None, now, "")
    if wanted > 1:
        return Choice((), None, now, f"the drawn parts go together in {share:.2%} of lots only")
    rotation = covariance(entry.raw, sources.variances)[3:, 3:]
    held = held_before(project, seen.chart, mate, before, rotation)
    if held is None:
        return Choice((), None, now, "no hand holds the part before it goes home")
    targets = targets_of(project, mate, before.scene)
    if not targets:
        return Choice((), held, now, "no face of what it goes to may be touched")
    found = touch_candidates(project, held, targets)
    candidates = tuple(t for t in found if not any(same_touch(t, e) for e in excluded))
    if not candidates:
        return Choice((), held, now, _NONE_MADE if found else "no point of it can touch its target")
    try:
        ahead = outlook(project, seen.chart, sources, seen.poses, mate, before, held, candidates)
    except CovarianceError as why:
        return Choice((), held, now, f"touches cannot be told apart: {why}")
    made = sum(1 for e in seen.chart.elements if e.kind == "locate" and e.mate == mate.name)
    return replace(_usable(ahead, candidates, mate, made, wanted, usable), held=held)


def _usable(
    ahead: Outlook, candidates: tuple[Touch, ...], mate: Mate, made: int, wanted: float, usable: Usable | None
) -> Choice:
    """The fewest touches of those that can be made: asked only of those that would be chosen, for that
    takes time.
    """
    pool = tuple(range(len(candidates)))
    while pool:
        choice = fewest(ahead.only(pool), tuple(candidates[i] for i in pool), mate, made, wanted)
        bad = {t for t in choice.touches if usable is not None and not usable(mate, t)}
        if not bad:
            return choice
        pool = tuple(i for i in pool if candidates[i] not in bad)
    return Choice((), None, judge(ahead.after(ahead.made)).band.low, _NONE_MADE)


def same_touch(a: Touch, b: Touch) -> bool:
    """Whether two touches meet the same face with the part standing the same way, within rounding."""
    if (a.held, a.part, a.feature) != (b.held, b.part, b.feature) or a.contact is None or b.contact is None:
        return False
    return bool(np.abs(a.contact.matrix - b.contact.matrix).max() < 1e-6)
