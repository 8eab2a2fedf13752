"""Where a hand can hold a part while screws go in beside it: the ends of long faces, away from the screws."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from handfast.geometry.cad.grips import grips_of
from handfast.mates.from_cad.chosen_features import ChosenFeatures
from handfast.mates.from_cad.guess import GuessedMate
from handfast.mates.from_cad.placed import Placed
from handfast.model.feature import Feature
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import Array

_LONG = 48e-3
"""A face no longer than that has no end that a hand would rather hold; common practice, no source [m]."""
_SHARE, _FINGER = 1 / 3, (16e-3, 30e-3)  # of its length that an end has, within these [m]
_UPRIGHT = 0.1  # of its normal along the screws' way: the hand comes from where the screws come
_FARTHER = 15e-3  # from the screws than the middle of the face is [m]


def add_end_faces(parts: tuple[Placed, ...], mates: list[GuessedMate], chosen: ChosenFeatures) -> None:
    """For every part that is held while screws go in: the ends of the two faces that jaws would close on, as
    features of their own, where these ends are farther from the screws than the middles."""
    index = {p.name: k for k, p in enumerate(parts)}
    screws = [m.mate for m in mates if m.mate.kind == "screw"]
    for m in mates:
        through = [parts[index[s.part]] for s in screws if m.mate.part in s.clamps]
        if m.mate.held_until is None or not through:
            continue
        held = parts[index[m.mate.part]]
        back = np.linalg.inv(held.T_assembly_part)
        at = np.array([(back @ _tip(p))[:3, 3] for p in through])
        for pair in _ends(held, at, (back @ _tip(through[0]))[:3, 2])[:1]:
            for face in pair:
                why = "the end of a face, away from the screws: a hand may hold it there while they go in"
                chosen.add(index[held.name], face, 0.9, why)


def add_other_ends(parts: tuple[Placed, ...], mates: list[GuessedMate], chosen: ChosenFeatures) -> None:
    """For every plain shaft that goes in by one end: its other end, by which a hand holds it meanwhile, as
    long as it stays out."""
    index = {p.name: k for k, p in enumerate(parts)}
    for m in mates:
        if m.mate.kind not in ("insert", "press") or not m.mate.pairs:
            continue
        part, name = index[m.mate.part], m.mate.pairs[0].moving
        key = next(k for k, g in chosen.chosen.items() if k[0] == part and g.feature.name == name)
        drawn = next((d for d in parts[part].features if d.feature.name == key[1]), None)
        if drawn is None or drawn.feature.kind != "shaft" or len(drawn.ends) != 2:
            continue
        other = part, key[1], 1 - key[2]
        unused = other not in chosen.chosen
        chosen.use(*other)
        end = chosen.feature(*other)
        # What stays out: a hand reaches no farther, and nothing else goes over the rest.
        out = (end.length or 0.0) - m.mate.pairs[0].depth
        fit = chosen.feature(*key).fit if unused else end.fit
        if out > 0:
            chosen.change(*other, replace(end, fit=fit, length=round(out, 9)), "")


def _tip(screw: Placed) -> Array:
    """T_assembly_tip of its shank; z along the screw."""
    shank = screw.standard.shank if screw.standard is not None else None
    tip = screw.feature(shank).feature.frame.matrix if shank is not None else np.eye(4)
    return np.asarray(screw.T_assembly_part @ tip)


def _ends(held: Placed, screws: Array, way: Array) -> list[tuple[Feature, Feature]]:
    """Pairs of ends of opposing faces that stand along the screws' way, the farthest from the screws first.
    screws (n, 3): in the part [m]."""
    by_name = {d.feature.name: d.feature for d in held.features}
    found: list[tuple[float, int, tuple[Feature, Feature]]] = []
    for grip in grips_of(held.features):
        if len(grip.features) != 2:
            continue
        a, b = (by_name[name] for name in grip.features)
        axis = int(np.argmax(grip.common))
        if grip.common[axis] < _LONG or abs(float(a.frame.matrix[:3, 2] @ way)) > _UPRIGHT:
            continue
        middle = (a.frame.matrix[:3, 3] + b.frame.matrix[:3, 3]) / 2
        for pair in (_end(a, b, axis, grip.common[axis], side) for side in (-1.0, 1.0)):
            there = (pair[0].frame.matrix[:3, 3] + pair[1].frame.matrix[:3, 3]) / 2
            gain = _nearest(there, screws) - _nearest(middle, screws)
            if gain > _FARTHER:
                found.append((round(_nearest(there, screws), 6), -len(found), pair))
    return [pair for _, _, pair in sorted(found, key=lambda f: f[:2], reverse=True)]


def _nearest(point: Array, screws: Array) -> float:
    return float(np.linalg.norm(screws - point, axis=1).min())


def _end(a: Feature, b: Feature, axis: int, common: float, side: float) -> tuple[Feature, Feature]:
    """Both faces cut down to the same end. axis: of the first, along which they are long."""
    along = a.frame.matrix[:3, axis]
    length = float(np.clip(_SHARE * common, *_FINGER))
    apart = float((b.frame.matrix[:3, 3] - a.frame.matrix[:3, 3]) @ along)
    place = apart / 2 + side * (common - length) / 2  # from the middle of the first face
    return _cut(a, along, place, length), _cut(b, along, place - apart, length)


def _cut(face: Feature, along: Array, place: float, length: float) -> Feature:
    T = face.frame.matrix.copy()
    axis = 0 if abs(float(T[:3, 0] @ along)) > np.sqrt(0.5) else 1
    T[:3, 3] += place * along
    size = list(face.size or (0.0, 0.0))
    size[axis] = length
    return replace(face, name=f"{face.name}_end", frame=Pose.from_matrix(T), size=(size[0], size[1]))
