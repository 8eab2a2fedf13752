"""Whether an item that is put down on a flat place lies still there, whichever side it lies on."""

from __future__ import annotations

import numpy as np

from handfast.proof.bodies import Body
from handfast.proof.piece import Piece
from handfast.proof.stl import Array
from handfast.proof.tolerances import REST_HEIGHT, REST_MARGIN

_AROUND = np.arange(360) * 2 * np.pi / 360


def why_not_at_rest(body: Body, centre_of_mass: Array, T_place_item: Array) -> str:
    """What keeps an item from lying still on the plane z = 0 of a place, or nothing.

    centre_of_mass (3,): in the item [m]. It lies on the points that are lowest; the centre of mass has to
    stand over them with REST_MARGIN to spare in every direction, or it tips over, or rolls.
    """
    points = np.concatenate([_points(piece) for piece in body.pieces])
    points = points @ T_place_item[:3, :3].T + T_place_item[:3, 3]
    lowest = float(points[:, 2].min())
    if abs(lowest) > REST_HEIGHT:
        return f"its lowest point is {1e3 * abs(lowest):.2f} mm {'above' if lowest > 0 else 'below'} it"
    centre = (T_place_item @ [*centre_of_mass, 1.0])[:2]
    below = points[points[:, 2] < lowest + REST_HEIGHT, :2] - centre
    outward = np.stack([np.cos(_AROUND), np.sin(_AROUND)])
    margin = float((below @ outward).max(axis=0).min())
    if margin < REST_MARGIN:
        return (
            f"it tips over or rolls: its centre of mass stands {1e3 * margin:.2f} mm inside what it lies on"
        )
    return ""


def _points(piece: Piece) -> Array:
    """The corners of a shape in its body (n, 3) [m]; of a round one, points on its edges."""
    if piece.vertices is not None:
        local = np.asarray(piece.vertices)
    elif len(piece.size) == 3:
        local = np.stack(np.meshgrid(*[(-s / 2, s / 2) for s in piece.size]), axis=-1).reshape(-1, 3)
    elif len(piece.size) == 2:
        radius, length = piece.size
        rim = radius * np.stack([np.cos(_AROUND), np.sin(_AROUND)], axis=-1)
        local = np.concatenate([np.column_stack([rim, np.full(360, z)]) for z in (-length / 2, length / 2)])
    else:
        local = piece.size[0] * np.concatenate([np.eye(3), -np.eye(3)])
    return np.asarray(local @ piece.T_body_shape[:3, :3].T + piece.T_body_shape[:3, 3])
