"""A guarded move: it leads to the face, meets it within its edges, and does not go on further than it
states."""

from __future__ import annotations

import numpy as np

from handfast.model.element import Element
from handfast.model.proof import Violation
from handfast.proof.motion_checks import line_of
from handfast.proof.replay_state import Replay, in_hand, made
from handfast.proof.standing import Standing
from handfast.proof.tolerances import RESOLUTION, TOUCH_REACH
from handfast.proof.touch_corridor import touch_gap


def check_touch(replay: Replay, standing: Standing, element: Element) -> list[Violation]:
    """A locate element as it begins; its touch has to be reached at the end of one of its motions."""
    touch, time = element.touch, element.start_s
    if touch is None:
        text = f"{line_of(element)}: locates without saying what it touches"
        return [made("wrong place", element, time, 0.0, text)]
    product = replay.project.product
    part = next((p for p in product.parts if p.name == touch.part), None)
    face = next((f for f in part.features if f.name == touch.feature), None) if part else None
    if face is None or face.kind != "face" or touch.held == touch.part:
        text = f"{line_of(element)}: {touch.part}.{touch.feature} is no face that {touch.held!r} could touch"
        return [made("wrong place", element, time, 0.0, text)]
    if not in_hand(standing, element.hand, touch.held):
        text = f"{line_of(element)}: touches with {touch.held!r}, which the {element.hand} hand does not hold"
        return [made("not held", element, time, 0.0, text)]
    gaps = []
    for motion in element.motions:
        there = standing.at(element.hand, np.array(motion.q[-1]))
        found = touch_gap(product, touch, replay.pose_of(there))
        if found is not None and found[1]:
            gaps.append(found[0])
    return _judged(element, gaps, touch.overtravel, f"{touch.part}.{touch.feature}")


def _judged(element: Element, gaps: list[float], overtravel: float, face: str) -> list[Violation]:
    if not gaps or min(gaps) > TOUCH_REACH:
        closest = f"{1e3 * min(gaps):.2f} mm short of it" if gaps else "not within its edges"
        text = f"{line_of(element)}: never meets {face}: its motions end {closest}"
        return [made("wrong place", element, element.start_s, min(gaps, default=0.0), text)]
    past = -min(gaps) - overtravel
    if past <= RESOLUTION:
        return []
    text = f"{line_of(element)}: goes {1e3 * past:.2f} mm further into {face} than its overtravel"
    return [made("collision", element, element.start_s, past, text)]
