"""Finding parts by camera, before a hand goes to pick them up."""

from __future__ import annotations

import math

import numpy as np

from handfast.execution.failure import FailureError
from handfast.execution.run_state import RunState
from handfast.model.camera import Camera
from handfast.model.element import Element
from handfast.spatial import se3
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import Array

# a part that leans further than this lies on another side [rad]; own choice, no source
LEANS = math.radians(45)
# seen this many camera sigmas off its place, and further than this [m], a part really lies elsewhere
_SIGMAS = 5.0
_OFF = 1.5e-3
# a part built in that is seen further off than this [m], and than this many camera sigmas, is not in its
# place; own choice, no source
_AT_HOME, _SURE_SIGMAS = 3e-3, 8.0
# jaws reach for a part this far from its place, not further [m]; own choice, no source
REACH = 0.01


def look(run: RunState, element: Element) -> None:
    """Before a part is picked from its place: is it there, the right way up, and where?

    What lies further off than the camera may err is picked where it was seen. Raises FailureError.
    """
    parts = {p.name for p in run.project.product.parts}
    picks = element.kind in ("reach", "search") and element.target.startswith("place.")
    if not picks or element.object not in parts or not run.project.cell.cameras:
        return
    seen = run.cell.locate(element.object, element.target)
    if seen is None:
        raise FailureError(
            "missing part",
            f"{element.object} was not seen at {element.target}",
            f"put {element.object} there",
        )
    run.journal.note(element, "seen", pose=seen)
    shift = judged(run.T_world(element.object), seen, run.project.cell.cameras[0], element)
    if shift is not None:
        run.picks[element.object] = shift
        x, y, z = (shift @ run.T_world(element.object) - run.T_world(element.object))[:3, 3].tolist()
        run.journal.note(
            element, "correction", f"{element.object} is picked where it was seen", x=x, y=y, z=z
        )


def look_at_home(run: RunState, element: Element) -> None:
    """Once the hand that let a built-in part go is away: is the part where it belongs? What the camera does
    not see is not asked about. Raises FailureError."""
    item, leaves = element.object, element.leaves
    if leaves is None or not leaves.parent.startswith("part.") or not run.project.cell.cameras:
        return
    seen = run.cell.locate(item, leaves.parent)
    if seen is None:
        return
    T_world_item = run.T_world(item)
    off = se3.inverse(T_world_item) @ seen.matrix
    away, into = float(np.linalg.norm(off[:3, 3])), leaves.parent.removeprefix("part.")
    run.journal.note(element, "seen", pose=seen)
    if away > max(_AT_HOME, _SURE_SIGMAS * float(np.linalg.norm(run.project.cell.cameras[0].sigma[:3]))):
        raise FailureError(
            "did not go in",
            f"{item} was seen {away * 1e3:.1f} mm from its place on {into} after the {element.hand} hand let "
            "go: it slipped in the jaws, or came out again",
            f"take {item} out and look at it, at the pads and at how hard the jaws press; put it where it "
            f"started, and go on with the first element of {element.mate}",
        )


def judged(T_world_nominal: Array, seen: Pose, camera: Camera, element: Element) -> Array | None:
    """How far the pick moves, T_world_seen @ inv(T_world_nominal) (4, 4); None: it stays. Raises
    FailureError."""
    item, place = element.object, element.target
    off = se3.inverse(T_world_nominal) @ seen.matrix
    away = float(np.linalg.norm(off[:3, 3]))
    if away > REACH:
        raise FailureError(
            "lies elsewhere",
            f"{item} was seen {away * 1e3:.1f} mm from {place}",
            f"put {item} back in its place",
        )
    lean = math.acos(min(1.0, max(-1.0, float(off[2, 2]))))
    if lean > LEANS:
        how = "upside down" if lean > math.pi - LEANS else f"on its side, {math.degrees(lean):.0f} deg over"
        raise FailureError("upside down", f"{item} lies {how} at {place}", f"turn {item} over")
    sure = max(_OFF, _SIGMAS * float(np.linalg.norm(camera.sigma[:2])))
    if float(np.linalg.norm(off[:2, 3])) <= sure:
        return None
    # The camera tells where; how it lies on its support is known better than seen.
    moved = T_world_nominal.copy()
    moved[:3, 3] += T_world_nominal[:3, :2] @ off[:2, 3]
    return np.asarray(moved @ se3.inverse(T_world_nominal))
