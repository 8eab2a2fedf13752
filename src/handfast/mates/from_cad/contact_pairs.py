"""Contacts of a part with the frames that a mate would name, the one that says most first."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handfast.mates.from_cad.chosen_features import ChosenFeatures
from handfast.mates.from_cad.contacts import Contact
from handfast.mates.from_cad.placed import Placed
from handfast.spatial.se3 import Array

LOOSE = 0.2e-3
"""Play beyond which a pair locates nothing [m]."""
ON_AXIS = 50e-6
"""Axes no farther apart than that are one [m]."""


@dataclass(frozen=True, eq=False, slots=True)
class ContactPair:
    """One contact with the frames it uses. other: the fixed part."""

    contact: Contact
    other: int
    moving: tuple[str, int]
    fixed: tuple[str, int]


def pair_of_contact(c: Contact, part: int, out: Array, chosen: ChosenFeatures) -> ContactPair | None:
    """Both frames with z the way the moving part's shaft, or the fixed part's, points."""
    if c.kind == "gear":
        return ContactPair(c, c.other(part), (c.feature_of(part), 0), (c.feature_of(c.other(part)), 0))
    z = out if (c.kind in ("round", "slot", "thread") and part == c.a) else -out
    return with_z(c, part, z, chosen)


def with_z(c: Contact, part: int, z: Array, chosen: ChosenFeatures) -> ContactPair | None:
    """Both frames with z along a direction of the assembly; None if either cannot be used that way."""
    other = c.other(part)
    moving, fixed = c.feature_of(part), c.feature_of(other)
    ends = chosen.end_towards(part, moving, z), chosen.end_towards(other, fixed, z)
    if ends[0] is None or ends[1] is None:
        return None
    return ContactPair(c, other, (moving, ends[0]), (fixed, ends[1]))


def keys(part: int, p: ContactPair) -> tuple[tuple[int, str, int], tuple[int, str, int]]:
    """By which the frames of the moving and of the fixed part are known among the chosen features."""
    return (part, *p.moving), (p.other, *p.fixed)


def ranked_pairs(
    located: list[ContactPair], over: list[ContactPair], part: int, parts: tuple[Placed, ...]
) -> list[ContactPair]:
    """The pairs of a mate, in their order. Clearance holes over other holes say where a part goes only if
    nothing better does; else, at most, how it is turned."""
    if not located:
        return _ranked(over, part, parts)
    return _ranked(located, part, parts) + _turned_by(located, over)


def _ranked(pairs: list[ContactPair], part: int, parts: tuple[Placed, ...]) -> list[ContactPair]:
    """The one that sets the pose first, then the one that fixes its turn best, then the others."""
    order = {"thread": 0, "ring": 0, "round": 1, "slot": 2, "gear": 3, "aligned": 4}
    rest = sorted(
        pairs,
        key=lambda p: (
            order[p.contact.kind], p.contact.play > LOOSE, round(max(p.contact.play, 0.0), 5),
            parts[p.other].is_a("pin") is False and p.contact.b != part, -round(p.contact.engaged, 5),
            p.contact.feature_of(part),
        ),
    )  # fmt: skip
    if len(rest) < 3:
        return rest
    first = rest[0]
    lever = [
        p for p in rest[1:] if p.contact.play <= LOOSE and p.contact.kind in ("round", "slot", "aligned")
    ]
    second = max(lever, key=lambda p: round(off_axis(first.contact, p.contact), 5), default=None)
    if second is None or off_axis(first.contact, second.contact) < ON_AXIS:
        return rest
    return [first, second, *(p for p in rest[1:] if p is not second)]


def _turned_by(located: list[ContactPair], over: list[ContactPair]) -> list[ContactPair]:
    """The hole over another hole, farthest off, that says how a part is turned about the one axis that all
    else locates it on."""
    axis = located[0].contact
    if any(off_axis(axis, p.contact) > ON_AXIS or p.contact.kind in ("thread", "gear") for p in located):
        return []
    aside = [p for p in over if off_axis(axis, p.contact) > ON_AXIS]
    return [max(aside, key=lambda p: round(off_axis(axis, p.contact), 5))] if aside else []


def off_axis(a: Contact, b: Contact) -> float:
    """How far the second stands off the axis of the first [m]."""
    away = b.origin - a.origin
    return float(np.linalg.norm(away - (away @ a.axis) * a.axis))
