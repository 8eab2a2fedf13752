"""Motions moved by what was measured, and looked at before any of them is made.

Why a part was found off is not known: it may lie off in the hand, what it goes to may stand elsewhere, or the
arm errs. Moved by the measured correction, the hand is looked at where it then is, against everything where
it should be; what it holds as the plan has it in the hand, against everything but what it goes to, for to
that it is brought as it was planned to be. Whichever was the cause, each pair is then looked at where it is
furthest from what the chart's proof has shown.
"""

from __future__ import annotations

from collections.abc import Sequence

from handfast.execution.failure import FailureError
from handfast.execution.going import MARGIN, Going, begins_moving
from handfast.execution.run_state import RunState
from handfast.model.element import Element
from handfast.model.motion import Motion
from handfast.proof.moved_motion import would_meet
from handfast.proof.standing import Hold, Standing
from handfast.proof.tally import Meeting
from handfast.spatial import se3
from handfast.spatial.se3 import Array


def moved(run: RunState, element: Element, wanted: Array | None = None) -> tuple[Motion, ...]:
    """The element's motions as they are to be made, ending `wanted` (4, 4) off the plan: what the run knows
    of its target, if not given.

    Raises FailureError, before anything moves, if one that is moved by a correction would run into something;
    CellError if the arm cannot follow.
    """
    way = run.ways[element.hand]
    before = way.shift
    found = way.shifted(element, run.wanted(element) if wanted is None else wanted)
    going, clock = run.going.get(element.hand), 0.0
    if going is not None:
        going.take(found)
        if run.hands is not None and going.slower() > MARGIN:
            asked = run.cell.clock()
            run.hands.in_step()
            going.put_off(run.cell.clock() - asked)
        clock = going.began
    beside = [g for hand, g in run.going.items() if hand != element.hand]
    try:
        for planned, motion in zip(element.motions, found, strict=True):
            if motion is not planned or any(g.corrected for g in beside):
                begins = clock if going is None else going.due(motion)
                clear(run, element, motion, _meanwhile(run, going, beside, begins))
    except FailureError:
        way.shift = before
        raise
    return found


def _meanwhile(
    run: RunState, going: Going | None, beside: Sequence[Going], begins: float
) -> tuple[tuple[float, Motion], ...]:
    """What the other hand is at, and what it will begin as this one goes on, with how long after `begins` [s,
    of the cell's clock]."""
    out = [(g.began + after - begins, m) for g in beside for after, m in g.made]
    if going is None:
        return tuple(out)
    e = going.element
    slower = 1 + going.slower() / max(e.duration_s, 1e-6)
    for hand, left in run.left.items():
        for coming in (c for c in left if hand != e.hand and c.start_s < e.start_s + e.duration_s):
            at = going.began + max(coming.start_s - e.start_s, 0.0) * slower + begins_moving(coming) - begins
            for motion in coming.motions:
                out.append((at, motion))
                at += motion.duration
    return tuple(out)


def clear(
    run: RunState, element: Element, motion: Motion, meanwhile: tuple[tuple[float, Motion], ...] = ()
) -> None:
    """Raises FailureError if the motion would run into something in the scene as it is thought to be.

    meanwhile: motions of the other hand, and how long after this one each begins [s].
    """
    beside_hand, beside_held = _left_out(run, element)
    meeting = would_meet(
        run.around(),
        _standing(run, element),
        element,
        motion,
        beside_hand=beside_hand,
        beside_held=beside_held,
        meanwhile=meanwhile,
    )
    if meeting is not None:
        raise FailureError("cannot follow", _in_words(meeting, motion), _REMEDY.format(part=element.object))


def opens_on_the_way(run: RunState, element: Element, motion: Motion) -> bool:
    """Whether the hand's empty jaws can take the element's width while its first motion begins, other than
    the chart has it: it is certified here that they meet nothing so."""
    width, gripper = element.opening, run.project.cell.gripper_of(element.hand)
    going = run.going.get(element.hand)
    if width is None or going is None or motion.duration < gripper.close_time:
        return False
    beside = [g for hand, g in run.going.items() if hand != element.hand]
    standing = _standing(run, element).opened(element.hand, run.cell.state(element.hand).width)
    meanwhile = _meanwhile(run, going, beside, going.due(motion))
    return (
        would_meet(
            run.around(), standing, element, motion, meanwhile=meanwhile, opens=(width, gripper.close_time)
        )
        is None
    )


_REMEDY = "look what stands where it should not; put {part}, and what it goes to, closer to where they belong"


def _in_words(meeting: Meeting, motion: Motion) -> str:
    return (
        f"moved by the measured correction, the {motion.arm} arm would run {meeting.a} into {meeting.b}, "
        f"{meeting.time:.2f} s on its way; it was not moved"
    )


def _standing(run: RunState, element: Element) -> Standing:
    """How everything is thought to stand while the element's motions are made."""
    cell = run.project.cell
    scene, holding = run.scene, dict(run.holding)
    widths = {g.arm: run.cell.state(g.arm).width for g in cell.grippers}
    if element.opening is not None:
        widths[element.hand] = element.opening
    if element.kind == "release":
        widths.setdefault(element.hand, cell.gripper_of(element.hand).opening[1])
        holding.pop(element.hand, None)
        if element.leaves is not None and not element.leaves.parent.startswith("hand."):
            scene = scene.moved(element.leaves)
    parents = {a.item: (a.parent, a.pose.matrix) for a in scene.attachments}
    if _picks(element) and element.object in run.picks:
        parent, _ = parents[element.object]
        T_world_seen = run.picks[element.object] @ run.T_world(element.object)
        T_world_parent = run.T_world(element.object) @ se3.inverse(parents[element.object][1])
        parents[element.object] = (parent, se3.inverse(T_world_parent) @ T_world_seen)
    return Standing(
        parents,
        {name: way.q for name, way in run.ways.items()},
        widths,
        {arm: Hold(item, parents[item][1], element.number) for arm, item in holding.items()},
    )


def _picks(element: Element) -> bool:
    return element.kind in ("reach", "search", "grasp") and element.target.startswith("place.")


def _left_out(run: RunState, element: Element) -> tuple[frozenset[str], frozenset[str]]:
    """What is not asked about: with the hand, the part it has just let go; with what it holds, all that
    stands on the part it goes to, and the holder from which it was taken where it was seen."""
    held: set[str] = set()
    if element.mate:
        held |= _standing_with(run, run.project.product.mate(element.mate).into)
    if element.object in run.picks:
        held |= {holder.name for holder, _ in [run.project.cell.place_of(element.object)]}
    return frozenset({element.object} if element.kind == "release" else ()), frozenset(held)


def _standing_with(run: RunState, part: str) -> set[str]:
    """A part and all that are joined to it by now, whether or not a hand still holds them."""
    root = _root(run, part)
    return {p.name for p in run.project.product.parts if _root(run, p.name) == root}


def _root(run: RunState, part: str) -> str:
    own = next((m for m in run.project.product.mates if m.part == part and m.name in run.done), None)
    return part if own is None else _root(run, own.into)
