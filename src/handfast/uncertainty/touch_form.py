"""What a touch reads, as an error form."""

from __future__ import annotations

import numpy as np

from handfast.model.element import Element
from handfast.model.touch import Touch
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.uncertainty.chain_state import Reading, State
from handfast.uncertainty.error_form import Form, added, mapped, moved
from handfast.uncertainty.home import fixed_frame
from handfast.uncertainty.jaws import Given
from handfast.uncertainty.refusal import ChainError

# A guarded move that runs more along the face than against it tells next to nothing of it, and slips.
_LEAST_AGAINST = 0.2


def touch_reading(given: Given, state: State, element: Element, touch: Touch) -> Reading:
    """Measured minus expected travel of a guarded move, with the held part standing at the expected contact.

    Positive where the move goes further than planned: the face lies further along the direction, or the
    held part lies back in the hand. All deviations of both sides enter, the face's own among them, and the
    noise of the touch.
    """
    against = -touch.direction[2]
    if against < _LEAST_AGAINST:
        raise ChainError(
            f"element {element.id!r}, touch direction", "a move against the face, z under -0.2",
            f"z = {touch.direction[2]:.3g}",
        )  # fmt: skip
    outward = added(
        _height_of_point(state, given, element, touch),
        mapped(-np.eye(1), _height_of_face(state, given, element, touch)),
    )
    noise = mapped(np.eye(1, 6), given.sources.form(f"touch.{element.hand}", element.id, element.id))
    return Reading(element.id, element.mate, touch, added(mapped(np.eye(1) / against, outward), noise))


def _height_of_point(state: State, given: Given, element: Element, touch: Touch) -> Form:
    """Movement of the contact point of the held part along the face's outward normal."""
    T_world_face = fixed_frame(state, given.project.product, touch.part, touch.feature, element.id)
    T_face_held = se3.inverse(T_world_face) @ state.nominal(touch.held, element.id)
    return mapped(_height_row(T_face_held, np.array(touch.point)), state.items[touch.held].form)


def _height_of_face(state: State, given: Given, element: Element, touch: Touch) -> Form:
    """Movement of the face along its own normal at the contact point, its own error taken in."""
    part = given.project.product.part(touch.part)
    T_part_face = part.feature(touch.feature).frame.matrix
    T_world_face = fixed_frame(state, given.project.product, touch.part, touch.feature, element.id)
    place = f"{touch.part}.{touch.feature}"
    own = given.sources.form(f"feature.{place}", element.id, place)
    face = added(moved(se3.inverse(T_part_face), state.items[touch.part].form), own)
    contact = state.nominal(touch.held, element.id) @ np.array([*touch.point, 1.0])
    return mapped(_height_row(np.eye(4), (se3.inverse(T_world_face) @ contact)[:3]), face)


def _height_row(T_face_body: Array, point: Array) -> Array:
    """Row (1, 6): twist of a body to the z movement, in the face frame, of a point (3,) of that body."""
    z = T_face_body[2, :3]
    return np.asarray(np.concatenate([z, -z @ se3.hat(point)])[None, :])
