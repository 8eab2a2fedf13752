"""One motion by itself: knots that agree, rest at both ends, limits of position, speed and acceleration."""

from __future__ import annotations

import math

import numpy as np

from handfast.model.arm import Arm
from handfast.model.element import Element
from handfast.model.motion import Motion
from handfast.model.proof import Violation, ViolationKind
from handfast.proof.arm_model import ArmModel
from handfast.proof.joint_path import JointPath
from handfast.proof.stl import Array
from handfast.proof.tolerances import CONTINUITY, SHARE


def line_of(element: Element) -> str:
    """How a violation names an element: "element 12 (right, move pin)"."""
    return f"element {element.number} ({element.hand}, {element.kind} {element.object})".replace(" )", ")")


def broken(motion: Motion, joints: int) -> str:
    """Why a motion cannot be read at all, or nothing."""
    k = len(motion.t)
    if k < 2:
        return f"has {k} knots; at least two are needed"
    if len(motion.q) != k or len(motion.v) != k or {len(row) for row in (*motion.q, *motion.v)} != {joints}:
        return f"has knots of different shapes; each of t, q and v needs {k} knots of {joints} joints"
    t, *values = (np.array(each, dtype=np.float64) for each in (motion.t, motion.q, motion.v))
    if not all(np.isfinite(each).all() for each in (t, *values)):
        return "has a knot that is not a finite number"
    if t[0] != 0.0 or (np.diff(t) <= 0.0).any():
        return "has times that do not rise from 0"
    return ""


def check_motion(
    element: Element, path: JointPath, start: float, arm: Arm, model: ArmModel
) -> list[Violation]:
    """Everything that is wrong with a motion by itself. start: in the chart [s]."""
    found = _agreement(element, path, start) + _limits(element, path, start, model)
    found += _over(
        element, path.t, start, np.abs(path.v), arm.speed * model.velocity, "speed", "rad/s", arm.name
    )
    largest = np.array(arm.max_acceleration)
    middle = (path.t[1:] + path.t[:-1]) / 2
    return found + _over(
        element, middle, start, np.abs(path.acceleration), largest, "acceleration", "rad/s2", arm.name
    )


def _agreement(element: Element, path: JointPath, start: float) -> list[Violation]:
    h = np.diff(path.t)[:, None]
    off = np.abs(np.diff(path.q, axis=0) - (path.v[1:] + path.v[:-1]) / 2 * h)
    found = []
    if off.max() > CONTINUITY:
        knot, joint = np.unravel_index(int(off.argmax()), off.shape)
        text = (
            f"{line_of(element)}: joint {joint + 1} steps by {off.max():.3g} rad between knots {knot + 1} "
            f"and {knot + 2}, beside what their speeds give"
        )
        found.append(_made("discontinuity", element, start + float(path.t[knot]), float(off.max()), text))
    for index, word in ((0, "starts"), (-1, "ends")):
        speed = float(np.abs(path.v[index]).max())
        if speed > CONTINUITY:
            text = f"{line_of(element)}: a motion {word} at {speed:.3g} rad/s instead of at rest"
            found.append(_made("discontinuity", element, start + float(path.t[index]), speed, text))
    return found


def _limits(element: Element, path: JointPath, start: float, model: ArmModel) -> list[Violation]:
    """A joint may lie furthest out inside a segment, where its speed passes through zero."""
    lowest, highest = _extremes(path)
    found = []
    for joint in range(model.joints):
        over = max(float(highest[joint] - model.upper[joint]), float(model.lower[joint] - lowest[joint]))
        if over > SHARE:
            limits = f"{math.degrees(model.lower[joint]):.2f} to {math.degrees(model.upper[joint]):.2f} deg"
            reached = highest[joint] if highest[joint] > model.upper[joint] else lowest[joint]
            text = (
                f"{line_of(element)}: joint {joint + 1} of the {model.name} arm goes to "
                f"{math.degrees(reached):.2f} deg; its limits are {limits}"
            )
            when = float(path.t[int(np.abs(path.q[:, joint] - reached).argmin())])
            found.append(_made("limit", element, start + when, over, text))
    return found


def _extremes(path: JointPath) -> tuple[Array, Array]:
    """Lowest and highest position of each joint, (n,) each."""
    a = path.acceleration
    h = np.diff(path.t)[:, None]
    turn = np.clip(np.divide(-path.v[:-1], a, out=np.zeros_like(a), where=a != 0), 0.0, h)
    inside = path.q[:-1] + path.v[:-1] * turn + a * turn * turn / 2
    everything = np.concatenate([path.q, inside])
    return everything.min(axis=0), everything.max(axis=0)


def _over(
    element: Element, t: Array, start: float, found: Array, allowed: Array, what: str, unit: str, arm: str
) -> list[Violation]:
    share = found / allowed
    if share.max() <= 1 + SHARE:
        return []
    row, joint = np.unravel_index(int(share.argmax()), share.shape)
    excess = float(found[row, joint] - allowed[joint])
    text = (
        f"{line_of(element)}: joint {joint + 1} of the {arm} arm has {what} {found[row, joint]:.3f} {unit}; "
        f"it may have {allowed[joint]:.3f}"
    )
    return [_made("speed", element, start + float(t[row]), excess, text)]


def _made(kind: ViolationKind, element: Element, time: float, amount: float, text: str) -> Violation:
    return Violation(kind, element.number, time, amount, element.hand, element.object, text)
