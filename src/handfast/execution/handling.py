"""Moving, grasping and letting go."""

from __future__ import annotations

from handfast.execution.failure import FailureError
from handfast.execution.looking import look_at_home
from handfast.execution.moved import moved, opens_on_the_way
from handfast.execution.run_state import RunState
from handfast.model.element import Element
from handfast.model.grasp import Grasp
from handfast.model.jaw_limits import AT_STOP, SLIPPED, WIDTH_OFF
from handfast.model.motion import Motion

# jaws this near to a width stand there [m]; common practice, no source
_THERE = 0.05e-3


def go(run: RunState, element: Element) -> None:
    """The element's motions, one after another. Raises FailureError."""
    motions = moved(run, element)
    if element.opening is not None and element.hand not in run.holding:
        _take_width(run, element, element.opening, motions)
    way = run.ways[element.hand]
    for motion in motions:
        way.go(motion)


def _take_width(run: RunState, element: Element, width: float, motions: tuple[Motion, ...]) -> None:
    """The empty jaws go to a width: on the way where another hand would have to wait for it, and it is
    certified that they may."""
    if run.hands is None:
        run.cell.release(element.hand, width)
    elif abs(run.cell.state(element.hand).width - width) > _THERE:
        if motions and opens_on_the_way(run, element, motions[0]):
            run.hands.jaws(element.hand, width)
        else:
            run.cell.release(element.hand, width)


def grasp(run: RunState, element: Element) -> None:
    """Close the jaws and look at the width. Raises FailureError."""
    go(run, element)
    close(run, element)


def grasp_again(run: RunState, element: Element) -> None:
    """Open the jaws where the hand stands, and close them once more. Raises FailureError."""
    gripper = run.project.cell.gripper_of(element.hand)
    width = element.grasp.width if element.grasp is not None else 0.0
    run.cell.release(element.hand, min(width + 2 * gripper.gap, gripper.opening[1]))
    close(run, element)


def close(run: RunState, element: Element) -> None:
    """Jaws close; what they hold is judged by its width. Raises FailureError."""
    wanted = element.grasp
    if wanted is None:
        raise FailureError("chart", "nobody says how to grasp", "plan again")
    gripper = run.project.cell.gripper_of(element.hand)
    width = run.cell.grip(element.hand, wanted.width, gripper.force)
    run.journal.note(element, "width", measured=width, expected=wanted.width)
    _judge(element, wanted, width, gripper.opening[0])
    run.cell.set_payload(element.hand, run.mass(element.object))
    run.holding[element.hand], run.widths[element.hand] = element.object, width
    run.attach(element.object, f"hand.{element.hand}", wanted.T_grip_part.matrix)


def _judge(element: Element, wanted: Grasp, width: float, least: float) -> None:
    item, place = element.object, element.target
    if abs(width - wanted.width) <= WIDTH_OFF:
        return
    closed = (
        f"the {element.hand} jaws closed to {width * 1e3:.2f} mm, {item} measures {wanted.width * 1e3:.2f} mm"
    )
    if width <= least + AT_STOP < wanted.width - WIDTH_OFF:
        raise FailureError("missing part", f"{closed}: there is no {item} at {place}", f"put {item} right")
    raise FailureError("wrong width", f"{closed}: it lies wrong or is another part", f"put {item} right")


def still_held(run: RunState, element: Element) -> None:
    """Raises FailureError if the jaws have moved since they closed on what the element works with."""
    since = run.widths.get(element.hand)
    if since is None or element.hand not in run.holding or element.kind == "grasp":
        return
    width, item = run.cell.state(element.hand).width, run.holding[element.hand]
    if abs(width - since) > SLIPPED:
        raise FailureError(
            "slipped",
            f"the {element.hand} jaws stood at {since * 1e3:.2f} mm when they closed on {item} and stand at "
            f"{width * 1e3:.2f} mm now: {item} has slipped in them or was lost",
            f"take {item} out of the hand, look at the pads, and put {item} where it started",
        )


def release(run: RunState, element: Element) -> None:
    """Open the jaws, and lead the hand away. Raises FailureError."""
    motions = moved(run, element)
    width = element.opening
    if width is None:
        width = run.project.cell.gripper_of(element.hand).opening[1]
    run.cell.release(element.hand, width)
    run.cell.set_payload(element.hand, 0.0)
    run.holding.pop(element.hand, None)
    run.widths.pop(element.hand, None)
    leaves = element.leaves
    # Passed to the other hand: that hand's own grasp has already said where the object is.
    if leaves is not None and not leaves.parent.startswith("hand."):
        run.scene = run.scene.moved(leaves)
    way = run.ways[element.hand]
    for motion in motions:
        way.go(motion)
    look_at_home(run, element)
