"""What would make mates certain enough: as few touches as do it, chosen together, and a strategy where
touches alone do not.

A touch measures, and what it has shown serves every later mate; a search only ends in one hole. So a strategy
is taken where straight with touches stays short of the target; of several that reach it, the one that takes
the least time, its own touches counted.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from handfast.belief.covariance import CovarianceError
from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.mate import Mate
from handfast.model.project import Project
from handfast.model.strategy import Strategy
from handfast.model.touch import Touch
from handfast.model.touch_demand import TouchDemand
from handfast.uncertainty.after_entry import after_entry
from handfast.uncertainty.assemblable import share_of_lots, together
from handfast.uncertainty.conditions_of import conditions_of
from handfast.uncertainty.entered_by import entered_by
from handfast.uncertainty.entry import Entry
from handfast.uncertainty.error_form import covariance
from handfast.uncertainty.fewest_touches import WORTH, Choice, fewest
from handfast.uncertainty.hand_poses import HandPoses, hand_poses
from handfast.uncertainty.jaws import Given
from handfast.uncertainty.judge import judge, question
from handfast.uncertainty.outcomes import besides
from handfast.uncertainty.outlook import Imagined, Outlook, imagined, outlook
from handfast.uncertainty.refusal import BudgetError
from handfast.uncertainty.sources import Sources, sources_of
from handfast.uncertainty.strategies import possible
from handfast.uncertainty.touch_candidates import touch_candidates
from handfast.uncertainty.touch_scene import Before, before_home, held_before, targets_of
from handfast.uncertainty.walk import walk

Usable = Callable[[Mate, Touch], bool]
_NONE_MADE = "none of its touches can be made"
# A touch takes about this long, there and back [s]; of the pump's charts.
TOUCH_S = 2.5


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
            asked = Asking(project, seen, sources, scene, target, old.excluded, usable)
            how, choice = _best(asked, entry)
        except BudgetError as why:
            how, choice = None, Choice((), None, 0.0, f"no touch helps: {why}")
        known[name] = replace(
            old, touches=(*old.touches, *choice.touches), reason=choice.reason, strategy=how
        )
        seen = by_way(seen, scene.element, how)
        scene = before_home(seen.chart, mate) or scene
        if choice.held is not None and choice.touches:
            seen = imagined(project, seen.chart, seen.poses, scene, choice.held, choice.touches)
            entries = walk(Given(project, seen.chart, sources, seen.poses))
    return tuple(d for d in known.values() if d.touches or d.excluded or d.reason or d.strategy)


@dataclass(frozen=True, eq=False, slots=True)
class Asking:
    """What is asked about one mate. seen: the chart so far; before: how its part stands before it goes home;
    target: of the sure end; excluded: touches that could not be made; usable: whether a touch is worth trying
    at all."""

    project: Project
    seen: Imagined
    sources: Sources
    before: Before
    target: float
    excluded: tuple[Touch, ...] = ()
    usable: Usable | None = None


def _best(asking: Asking, entry: Entry) -> tuple[Strategy | None, Choice]:
    """The strategy with its touches; one that the chart has already stays while it does."""
    choice = _choice(asking, entry, entry.strategy)
    if not choice.reason:
        return entry.strategy, choice
    others = [how for how in possible(asking.project, entry, asking.sources) if how != entry.strategy]
    found = [(how, _choice(asking, entry, how)) for how in others]
    enough = [(how, c) for how, c in found if not c.reason]
    if enough:
        return min(enough, key=lambda f: f[0].seconds + TOUCH_S * len(f[1].touches))
    best = max(found, key=lambda f: f[1].low, default=None)
    if best is not None and best[1].low > choice.low + WORTH:
        return best
    return entry.strategy, choice


def _choice(asking: Asking, entry: Entry, how: Strategy | None) -> Choice:
    seen = by_way(asking.seen, asking.before.element, how)
    at = next(e for e in seen.chart.elements if e.id == asking.before.element.id)
    return choose_touches(
        asking.project, seen, asking.sources, entered_by(entry, how), replace(asking.before, element=at),
        asking.target, asking.excluded, asking.usable,
    )  # fmt: skip


def by_way(seen: Imagined, element: Element, how: Strategy | None) -> Imagined:
    """The chart with another strategy at one element; its times stay as they are."""
    elements = tuple(replace(e, strategy=how) if e.id == element.id else e for e in seen.chart.elements)
    return replace(seen, chart=replace(seen.chart, elements=elements))


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
    sure = besides(entry, after_entry(project.product, entry))[0]
    if sure < target:
        return Choice((), None, sure, "what goes wrong is not where the part comes in, so no touch helps")
    wanted, now = target / sure + 1 - share, judge(asked).band.low
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
