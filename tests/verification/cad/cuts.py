"""Holes, slots and bosses [mm], each as what is taken away or added and what is true about it."""

from __future__ import annotations

from typing import Any

import numpy as np
from tests.verification.cad.draw import add, box, cone, prism, rod
from tests.verification.cad.truth import Truth

OVER = 1.0  # a cut begins so far outside the material
TAP_DRILLS = {"M3": 2.5, "M4": 3.3, "M5": 4.2, "M6": 5.0, "M8": 6.8}  # ISO 2306, from memory
Made = tuple[Any, list[Truth]]


def lead(at: np.ndarray, z: np.ndarray, diameter: float, width: float, angle: float) -> Any:
    """The cone of a chamfer of that radial width, `angle` [deg] from the face, at a mouth; a little beyond
    it."""
    slope = np.tan(np.deg2rad(angle))
    beyond = 0.4
    wide = diameter + 2 * width + 2 * beyond / slope
    return cone(at - beyond * z, z, wide, diameter, beyond + width * slope)


def hole(
    at: np.ndarray, z: np.ndarray, diameter: float, depth: float, through: bool, chamfer: float = 0.0,
    angle: float = 45.0, flat: bool = False, thread: str | None = None,
) -> Made:  # fmt: skip
    """depth: of the cylinder; a blind one ends flat or in a drill's cone of 118 degrees."""
    tool = rod(at - OVER * z, z, diameter, depth + OVER + (OVER if through else 0.0))
    if not through and not flat:
        tall = diameter / 2 / np.tan(np.deg2rad(59))
        tool = add(tool, cone(at + depth * z, z, diameter, 0.0, tall))
    if chamfer:
        tool = add(tool, lead(at, z, diameter, chamfer, angle))
    return tool, [
        Truth(
            "hole", at, z, diameter, depth, form="through" if through else "blind",
            chamfer=(chamfer, angle) if chamfer else None, other=at + depth * z if through else None,
            thread=thread,
        )
    ]  # fmt: skip


def counterbored(at: np.ndarray, z: np.ndarray, small: float, big: float, sunk: float, depth: float) -> Made:
    """Through; `sunk` deep for the head. Its floor is a face that the head sits on."""
    tool = add(rod(at - OVER * z, z, small, depth + 2 * OVER), rod(at - OVER * z, z, big, sunk + OVER))
    floor = at + sunk * z
    made = [
        Truth("hole", floor, z, small, depth - sunk, form="counterbored through", other=at + depth * z),
        Truth("hole", at, z, big, sunk, form="counterbore"),
    ]
    if (big - small) / 2 > 0 and big > 1.5:
        made.append(Truth("face", floor, -z, size=(big, big)))
    return tool, made


def countersunk(at: np.ndarray, z: np.ndarray, diameter: float, depth: float) -> Made:
    """Through, for a head of 90 degrees twice as wide as the hole."""
    width = diameter / 2
    tool = add(rod(at - OVER * z, z, diameter, depth + 2 * OVER), lead(at, z, diameter, width, 45.0))
    true = Truth(
        "hole",
        at,
        z,
        diameter,
        depth,
        form="countersunk through",
        chamfer=(width, 45.0),
        other=at + depth * z,
    )
    return tool, [true]


def stepped(at: np.ndarray, z: np.ndarray, diameters: list[float], depths: list[float]) -> Made:
    """Blind, ever narrower: depths of each step, from the mouth of each."""
    tool, made, start = None, [], 0.0
    for d, depth in zip(diameters, depths, strict=True):
        begin = at + start * z
        piece = rod(begin - OVER * z if start == 0 else begin, z, d, depth + (OVER if start == 0 else 0))
        tool = piece if tool is None else add(tool, piece)
        form = "counterbore" if start == 0 else "counterbored blind"
        made.append(Truth("hole", begin, z, d, depth, form=form if len(depths) == 2 else "stepped blind"))
        start += depth
    for wide, true in zip(diameters, made[1:], strict=False):
        made.append(Truth("face", true.at, -z, size=(wide, wide)))
    return tool, made


def slot(
    at: np.ndarray, z: np.ndarray, x: np.ndarray, length: float, width: float, depth: float, through: bool
) -> Made:
    """Round ends; length over all."""
    y = np.cross(z, x)
    half = (length - width) / 2
    start = at - OVER * z
    tall = depth + OVER + (OVER if through else 0.0)
    corners = [start + a * half * x + b * width / 2 * y for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    tool = prism(np.array(corners), tall * z)
    for s in (-1, 1):
        tool = add(tool, rod(start + s * half * x, z, width, tall))
    other = at + depth * z if through else None
    form = "through, round ends" if through else "blind, round ends"
    return tool, [Truth("slot", at, z, width, depth, (length, width), form, other=other)]


def boss(at: np.ndarray, z: np.ndarray, diameter: float, height: float, chamfer: float) -> Made:
    """at: its foot; z: out of the face it stands on."""
    body = rod(at, z, diameter, height - chamfer)
    if chamfer:
        body = add(body, cone(at + (height - chamfer) * z, z, diameter, diameter - 2 * chamfer, chamfer))
    tip = at + height * z
    top = diameter - 2 * chamfer
    lead_in = (chamfer, 45.0) if chamfer else None
    made = [Truth("shaft", tip, z, diameter, height, form="plain", chamfer=lead_in)]
    return body, [*made, Truth("face", tip, z, size=(top, top))]


def block(size: tuple[float, float, float]) -> Made:
    """Its underside on z = 0, about the z axis; six faces."""
    x, y, z = size
    low, high = (-x / 2, -y / 2, 0.0), (x / 2, y / 2, z)
    middle = np.array([0, 0, z / 2])
    made = []
    for axis in range(3):
        for sign in (-1.0, 1.0):
            out = np.zeros(3)
            out[axis] = sign
            edges = tuple(s for k, s in enumerate(size) if k != axis)
            made.append(Truth("face", middle + out * np.array(size) / 2, out, size=(edges[0], edges[1])))
    return box(low, high), made
