"""How each part lies at the start: as it goes in where it can stand so, else on its likeliest side."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.mates.from_cad.guess import Guessed, GuessedPart
from handfast.mates.resting import resting_poses
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.workflow.from_cad.ways import from_below, group_up

_PLAY = 0.3e-3  # of a shaft in the hole that it stands in [m]
_SHARE = 0.04  # of throws: a side on which a part ends more rarely is no side to lie on
_UPRIGHT = 0.4  # of its length that a pin stands in its hole
TURNED = se3.rotation(np.array([1.0, 0.0, 0.0]), np.pi)
"""T (4, 4) that turns over what stands, about the world's x."""


@dataclass(frozen=True, eq=False, slots=True)
class Lying:
    """T_seat_part: on top of a pad or a bored block; footprint: half extents of what it covers [m]; bore:
    diameter and depth [m] of the hole below it, or None; pad: half extents of the pad's top; words: for the
    file."""

    part: str
    T_seat_part: Array
    footprint: tuple[float, float]
    bore: tuple[float, float] | None
    pad: tuple[float, float]
    words: str


def lying(guessed: Guessed, up: Array) -> dict[str, Lying]:
    """By part, all but the base. up: direction of the base's frame that points up in the cell. What comes in
    from below lies as it goes in once the base is turned over."""
    T_up = standing(guessed, up)
    below = from_below(guessed)
    turned = {m.mate.part for m in guessed.mates if m.mate.name in below}
    built_on = {g.base: g for g in guessed.groups}
    found = {}
    for p in guessed.parts:
        T_home = (TURNED @ T_up if p.name in turned else T_up) @ p.placed.T_assembly_part
        T_home[:3, 3] = 0.0
        if p.name in built_on:
            found[p.name] = _to_be_built_on(p, T_home, group_up(guessed, built_on[p.name]))
        elif p.name != guessed.base:
            found[p.name] = _in_a_hole(guessed, p, T_home) or _on_a_pad(p, T_home)
    return found


def _to_be_built_on(part: GuessedPart, T_home: Array, up: Array) -> Lying:
    """Upright, as its own parts go in; turned about z as it goes home."""
    T = upright(up)
    turn = T_home[:3, :3] @ T[:3, :3].T
    about_z = float(np.arctan2(turn[1, 0] - turn[0, 1], turn[0, 0] + turn[1, 1]))
    T = se3.rotation(np.array([0.0, 0.0, 1.0]), about_z) @ T
    x, y, _ = np.ptp(part.placed.graph.vertices @ T[:3, :3].T, axis=0) / 2
    return Lying(
        part.name, T, (float(x), float(y)), None, (float(x), float(y)), "its own parts are put in here"
    )


def standing(guessed: Guessed, up: Array) -> Array:
    """Rotation (4, 4) of the base's frame into the world: up, its longer side away from the arms' bases, so
    that two hands beside it come to both of its ends."""
    T = upright(up)
    if from_below(guessed) or guessed.groups:
        return T  # another place stands behind it, and hands come from either side
    base = next(p for p in guessed.parts if p.name == guessed.base)
    x, y, _ = np.ptp(base.placed.graph.vertices @ T[:3, :3].T, axis=0)
    return np.asarray(se3.rotation(np.array([0.0, 0.0, 1.0]), np.pi / 2) @ T) if x > y * 1.05 else T


def upright(up: Array) -> Array:
    """Rotation (4, 4) that turns a direction of the base's frame to the world's z."""
    z = up / np.linalg.norm(up)
    x = np.array([1.0, 0, 0]) if abs(z[0]) < 0.9 else np.array([0, 1.0, 0])
    x = x - (x @ z) * z
    x /= np.linalg.norm(x)
    T = np.eye(4)
    T[:3, :3] = np.stack([x, np.cross(z, x), z])
    return T


def _in_a_hole(guessed: Guessed, part: GuessedPart, T_home: Array) -> Lying | None:
    """Shafts and screws that go straight down stand in a hole as they will."""
    mate = next((m.mate for m in guessed.mates if m.mate.part == part.name), None)
    if mate is None:
        return None
    moving = next(f.feature for f in part.features if f.feature.name == mate.pairs[0].moving)
    T = T_home @ moving.frame.matrix
    outside = not (moving.kind == "thread" and moving.internal) and moving.kind in ("shaft", "thread")
    points = part.placed.graph.vertices @ T_home[:3, :3].T - T[:3, 3]
    if not outside or T[2, 2] > -0.999 or moving.length is None or float(points[:, 2].min()) < -1e-6:
        return None
    around = np.hypot(points[:, 0], points[:, 1])
    radius = float(around[points[:, 2] < moving.length - 1e-6].max())
    beyond = float(around.max())
    if radius > 8e-3 or radius > beyond + 1e-6:
        return None
    plain = beyond < radius + 0.1e-3
    deep = _UPRIGHT * moving.length if plain else moving.length
    seat = T_home.copy()
    seat[:3, 3] = -T[:3, 3] - np.array([0.0, 0.0, deep])
    bore = 2 * radius + _PLAY, deep if plain else deep + 1e-3
    half = beyond, beyond
    words = f"stands {1e3 * deep:.3g} mm deep in a hole" if plain else "hangs by its shoulder in a hole"
    pad = max(radius + 4e-3, min(beyond, radius + 6e-3))
    return Lying(part.name, seat, half, bore, (pad, pad), words)


def _on_a_pad(part: GuessedPart, T_home: Array) -> Lying:
    vertices = part.placed.graph.vertices
    poses = resting_poses(vertices, part.placed.graph.centre, least_margin=0.5e-3)
    usable = [r for r in poses if r.share > _SHARE] or poses
    T = (
        min(usable, key=lambda r: _tilt(r.T_surface_part, T_home)).T_surface_part
        if usable
        else _lowest(vertices, T_home)
    )
    # Turned about z so that it lies as it goes in, as far as that side allows.
    turn = T_home[:3, :3] @ T[:3, :3].T
    about_z = float(np.arctan2(turn[1, 0] - turn[0, 1], turn[0, 0] + turn[1, 1]))
    T = se3.rotation(np.array([0.0, 0.0, 1.0]), about_z) @ T
    placed = vertices @ T[:3, :3].T + T[:3, 3]
    half = np.abs(placed[:, :2]).max(axis=0)
    touching = np.abs(placed[placed[:, 2] < 0.05e-3][:, :2])
    reach = touching.max(axis=0) if len(touching) else half
    pad = tuple(float(max(1.5e-3, v - 2e-3)) for v in reach)
    share = next((r.share for r in usable if np.allclose(r.T_surface_part[2, :3], T[2, :3])), None)
    words = (
        f"lies so in {100 * share:.0f} % of throws"
        if share is not None
        else "no stable side found: held how?"
    )
    return Lying(part.name, T, (float(half[0]), float(half[1])), None, (pad[0], pad[1]), words)


def _tilt(T: Array, T_home: Array) -> float:
    """How far the two differ in which way is up [rad], coarsely."""
    return round(float(np.arccos(np.clip(T[2, :3] @ T_home[2, :3], -1, 1))), 2)


def _lowest(vertices: Array, T_home: Array) -> Array:
    T = T_home.copy()
    T[2, 3] = -float((vertices @ T_home[2, :3]).min())
    return T
