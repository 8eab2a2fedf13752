"""Touches: a guarded move, judged against the errors, and what it shows."""

from __future__ import annotations

import numpy as np

from handfast.belief.consistency import chi_square_quantile
from handfast.belief.contact import GuardedTouch, corner_heights
from handfast.belief.surprise import CONFIDENCE
from handfast.execution.estimates import Touched, Travel, estimate, summed
from handfast.execution.failure import FailureError
from handfast.execution.moved import moved
from handfast.execution.nominal import nominal_pose
from handfast.execution.over_face import over_face
from handfast.execution.run_state import RunState
from handfast.geometry.mesh import surface_points
from handfast.model.element import Element
from handfast.model.ledger import Ledger
from handfast.model.motion import Motion
from handfast.model.touch import Touch
from handfast.spatial import se3
from handfast.spatial.pose import Vec3
from handfast.spatial.se3 import Array

# A reading this far beyond chance stops the run whatever else it says: one in a million. Own choice, no
# source.
_IMPOSSIBLE = 1 - 1e-6


def locate(run: RunState, element: Element) -> None:
    """Lead to the start of the touch, touch, lead away. Raises FailureError."""
    touch, guarded = described(element)
    motions = moved(run, element, np.eye(4))
    for motion in motions[:guarded]:
        run.ways[element.hand].go(motion)
    _touch(run, element, touch, motions[guarded:], CONFIDENCE if run.strict else _IMPOSSIBLE)


def touch_again(run: RunState, element: Element) -> None:
    """Once more from where the first touch began; an unlikely reading that repeats is believed unless it is
    impossible. Raises FailureError."""
    touch, guarded = described(element)
    _touch(run, element, touch, element.motions[guarded:], _IMPOSSIBLE)


def described(element: Element) -> tuple[Touch, int]:
    """Raises FailureError for a locate element that does not say what it touches."""
    if element.touch is None or element.guarded is None:
        raise FailureError("chart", "the touch is not described", "plan again")
    return element.touch, element.guarded


def _touch(
    run: RunState, element: Element, touch: Touch, rest: tuple[Motion, ...], confidence: float
) -> None:
    cell, way = run.cell, run.ways[element.hand]
    way.at_start(rest[0])
    cell.pause(run.project.cell.controller.settle)
    cell.zero_force(element.hand)
    direction = run.T_world_feature(touch.part, touch.feature)[:3, :3] @ np.array(touch.direction)
    result = cell.guarded_move(
        element.hand, _vec3(direction), touch.travel, touch.overtravel, touch.force, touch.speed
    )
    run.journal.note(element, "contact", met=result.contact, travel=result.travel, expected=touch.travel)
    if not result.contact:
        raise FailureError(
            "no contact",
            f"{touch.held} did not meet {touch.part} within {(touch.travel + touch.overtravel) * 1e3:.1f} mm",
            f"look whether {touch.part} lies in its place",
        )
    likely(run, element, touch, result.travel - touch.travel, confidence)
    for motion in after_touch(rest):
        way.go(motion)
    if run.ledger is not None:
        told = Touched(
            element.id, result.travel - touch.travel, corners(run, element, touch, rest[0]), element.mate
        )
        run.touched = (*(t for t in run.touched if t.element != element.id), told)
        take_in(run, element, run.ledger)


def likely(run: RunState, element: Element, touch: Touch, surprise: float, confidence: float) -> None:
    """Raises FailureError for a reading further off than the errors of the ledger explain."""
    updates = run.ledger.updates if run.ledger is not None else ()
    sigma = max((u.sigma_reading for u in updates if u.element == element.id), default=None)
    if sigma is None or sigma <= 0 or (surprise / sigma) ** 2 <= chi_square_quantile(confidence, 1):
        return
    raise FailureError(
        "unlikely touch",
        f"{touch.held} met {touch.part} {surprise * 1e3:+.2f} mm from where it was expected, which is "
        f"{abs(surprise) / sigma:.1f} sigma: {touch.part} or what it stands on has moved, an arm is off, or "
        "something else was touched",
        f"look whether {touch.part} lies in its place, clean {touch.part}.{touch.feature}, "
        "and check the arm's zero",
    )


def take_in(run: RunState, element: Element, ledger: Ledger) -> None:
    """Estimates after the touch, mate by mate; the ledger's own sum of gains where it says no more."""
    for mate in dict.fromkeys(u.mate for u in ledger.updates if u.element == element.id):
        found = estimate(ledger, mate, run.touched)
        twist = summed(ledger, mate, run.touched) if found is None else found.after.mean
        run.corrections.twists[mate] = twist
    for mate, twist in run.corrections.twists.items():
        values = dict(zip(("x", "y", "z", "rx", "ry", "rz"), (-twist).tolist(), strict=True))
        run.journal.add(element, "correction", values, f"targets of {mate}, in the fixed feature's frame")


def corners(run: RunState, element: Element, touch: Touch, guarded: Motion) -> Travel | None:
    """How far beyond the expected contact the true corners of the held part go, by how it is off in the fixed
    feature's frame of the element's mate; None for what has no shape of its own.

    Only what the hand holds is off by angles that bend the reading, and these it takes along, wherever it is
    led and however it is turned: so the fixed feature's frame stands to the part as it will at home.
    """
    part = next((p for p in run.project.product.parts if p.name == touch.held), None)
    T_held_fixed = _at_home(run, touch.held, element.mate)
    if part is None or run.ledger is None or T_held_fixed is None:
        return None
    standing = {**run.planned, element.hand: np.array(guarded.q[-1])}
    T_world_held = nominal_pose(touch.held, run.scene, run.project.cell, run.chains, standing)
    T_held_face = se3.inverse(T_world_held) @ run.T_world_feature(touch.part, touch.feature)
    T_face_held, direction = se3.inverse(T_held_face), np.array(touch.direction)
    size = run.project.product.part(touch.part).feature(touch.feature).size
    if size is None or direction[2] >= 0:
        return None
    points = over_face(surface_points(part.solids, run.project.folder), T_face_held, direction, size)
    if not len(points):
        return None
    at_contact = (GuardedTouch(T_face_held, direction),)
    planned = float(corner_heights(at_contact, points, np.zeros((1, 6))).min())

    def travel(twists: Array) -> Array:
        held = twists @ se3.adjoint(T_held_fixed).T
        return np.asarray(
            (corner_heights(at_contact, points, held)[:, 0].min(axis=1) - planned) / -direction[2]
        )

    return travel


def _at_home(run: RunState, held: str, name: str) -> Array | None:
    """T_held_fixed (4, 4) of a mate's first pair once the part is in, None if the chart never leaves it
    there."""
    mate = run.project.product.mate(name)
    left = (e.leaves for e in run.chart.elements if e.mate == name and e.leaves is not None)
    home = next((a for a in left if a.item == held and a.parent == f"part.{mate.into}"), None)
    if home is None:
        return None
    first = mate.pairs[0]
    T_world_into = nominal_pose(mate.into, run.scene, run.project.cell, run.chains, run.planned)
    T_into_fixed = se3.inverse(T_world_into) @ run.T_world_feature(first.fixed_part, first.fixed)
    return np.asarray(se3.inverse(home.pose.matrix) @ T_into_fixed)


def after_touch(motions: tuple[Motion, ...]) -> tuple[Motion, ...]:
    """What is left to do once the guarded move, the first of these, has been made and undone by the cell.

    The planned way back to its start is left out with it. Raises FailureError if the plan does not lead back
    there.
    """
    start = np.array(motions[0].q[0])
    for i, motion in enumerate(motions[1:], 1):
        if np.abs(np.array(motion.q[-1]) - start).max() < 1e-9:
            return motions[i + 1 :]
        if np.abs(np.array(motion.q[0]) - start).max() < 1e-9:
            return motions[i:]
    if len(motions) == 1:
        return ()
    raise FailureError(
        "chart", "the motions after the guarded move do not lead back to its start", "plan again"
    )


def _vec3(v: Array) -> Vec3:
    return float(v[0]), float(v[1]), float(v[2])
