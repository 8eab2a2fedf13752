"""All features of a drawn solid, and for each face that is none the reason."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from handfast.geometry.cad.around import widest_gap
from handfast.geometry.cad.axis_line import axis_lines
from handfast.geometry.cad.drawn_feature import DrawnFeature
from handfast.geometry.cad.face_graph import FaceGraph
from handfast.geometry.cad.find_annular import find_annular
from handfast.geometry.cad.find_faces import find_faces
from handfast.geometry.cad.find_gears import find_gears
from handfast.geometry.cad.find_rings import find_rings
from handfast.geometry.cad.find_round import find_round
from handfast.geometry.cad.find_slots import find_slots
from handfast.geometry.cad.find_sockets import find_sockets
from handfast.geometry.cad.name_features import named
from handfast.geometry.cad.patches import Patch, Patches, patches_of
from handfast.model.feature import Feature

_FACETS = 0.9
"""Of the sureness of a drawn feature that one made out of facets has; common practice, no source."""


@dataclass(frozen=True, eq=False, slots=True)
class Found:
    """features, each with a name of its own; reasons: by index, why a face is none."""

    features: tuple[DrawnFeature, ...]
    reasons: dict[int, str]


def find_features(graph: FaceGraph) -> Found:
    """Detection on the faces alone: nothing is guessed from names, and no other part is looked at."""
    patches = patches_of(graph)
    owner = {f: p.index for p in patches.all for f in p.faces}
    lines = axis_lines(patches.all)
    slots, pockets = find_slots(patches)
    taken = {owner[f] for s in slots for f in s.faces if patches.all[owner[f]].kind != "plane"}
    rounds: list[DrawnFeature] = []
    for line in lines:
        gears = find_gears(line, patches)
        out = taken | {owner[f] for g in gears for f in (*g.faces, *g.walls)}
        grooves = find_annular(line, patches, out)
        out |= {owner[f] for g in grooves for f in g.faces}
        rounds += gears + grooves + find_round(line, patches, out)
    whole = [*rounds, *slots, *find_sockets(patches), *find_rings(patches)]
    used = {owner[f] for w in whole for f in (*w.faces, *w.walls)} | {owner[f] for f in pockets}
    faces, thin = find_faces(patches, used | _floors(whole, patches, owner))
    features = _as_sure_as_facets(named([*whole, *faces]), graph)
    told = {f for d in features for f in (*d.faces, *d.walls)}
    reasons = {f: _reason(patch, thin) for patch in patches.all for f in patch.faces if f not in told}
    reasons |= dict.fromkeys(pockets & set(reasons), "a wall of a deep recess across a wider opening")
    return Found(features, reasons)


def _as_sure_as_facets(features: tuple[DrawnFeature, ...], graph: FaceGraph) -> tuple[DrawnFeature, ...]:
    """Features of a mesh are less sure, and no finer than its corners: what facets stand for is a guess."""
    if not graph.from_mesh:
        return features
    off = f", which leave round surfaces by up to {1e3 * graph.deviation:.2g} mm"
    return tuple(
        replace(
            d, feature=_to_a_micrometre(d.feature), sure=round(_FACETS * d.sure, 2),
            why=f"{d.why}, made out of facets{'' if d.feature.kind == 'face' else off}",
        )
        for d in features
    )  # fmt: skip


def _to_a_micrometre(f: Feature) -> Feature:
    size = (round(f.size[0], 6), round(f.size[1], 6)) if f.size is not None else None
    diameter = round(f.diameter, 6) if f.diameter is not None else None
    length = round(f.length, 6) if f.length is not None else None
    return replace(f, diameter=diameter, length=length, size=size)


def _floors(whole: list[DrawnFeature], patches: Patches, owner: dict[int, int]) -> set[int]:
    """Planes wholly inside a hole: its flat bottom, whose every neighbour is the hole."""
    holes = {owner[f] for w in whole if w.feature.kind == "hole" for f in w.faces}
    return {
        p.index
        for p in patches.all
        if p.kind == "plane" and patches.beside[p.index] and set(patches.beside[p.index]) <= holes
        and all(patches.bend(p.index, n) == "concave" for n in patches.beside[p.index])
    }  # fmt: skip


def _reason(patch: Patch, thin: dict[int, str]) -> str:
    if patch.index in thin:
        return thin[patch.index]
    if patch.kind == "plane":
        return "flat, the bottom or step of a hole"
    if patch.kind == "free":
        return "of general form: no plane, cylinder or cone lies within 5 um of it"
    if patch.kind in ("sphere", "torus"):
        side = "rounded edge" if patch.outward > 0 else "fillet"
        return f"a {patch.kind}: a {side}, or a ring"
    around = 360 - np.rad2deg(widest_gap(patch.points - patch.origin, patch.axis))
    if patch.kind == "cylinder":
        kind = "rounded edge or a part of a round flank" if patch.outward > 0 else "fillet"
        if around < 180.5:
            return f"a cylinder, but only {around:.0f} deg around: a {kind} that holds nothing"
        return "a cylinder that can be entered from neither end"
    away = patch.points - patch.origin
    out = np.linalg.norm(away - (away @ patch.axis)[:, None] * patch.axis, axis=1)
    if patch.outward < 0 and float(out.min()) < 0.1e-3:
        return "a cone that comes to a point: the bottom that a drill leaves"
    return f"a cone of {2 * np.rad2deg(abs(patch.half_angle)):.0f} deg that is no lead-in of a hole or shaft"
