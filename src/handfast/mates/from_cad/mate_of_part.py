"""How one part goes home: kind, pairs, depths, and what the drawing leaves open."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from handfast.mates.from_cad.chosen_features import (
    ChosenFeatures,
    as_screw,
    as_tapped,
    turned_over,
    with_x,
)
from handfast.mates.from_cad.contact_pairs import (
    LOOSE,
    ON_AXIS,
    ContactPair,
    keys,
    off_axis,
    pair_of_contact,
    ranked_pairs,
    with_z,
)
from handfast.mates.from_cad.contacts import PARALLEL, Contact
from handfast.mates.from_cad.fastening import ASSUMED_CLASS, guessed_torque
from handfast.mates.from_cad.fit_guess import EQUAL, guess_fit
from handfast.mates.from_cad.guess import GuessedMate
from handfast.mates.from_cad.is_round import is_round
from handfast.mates.from_cad.placed import Placed
from handfast.mates.from_cad.squeezed import squeezes
from handfast.mates.from_cad.ways_out import Removal
from handfast.model.mate import FeaturePair, Mate, MateKind
from handfast.spatial import se3
from handfast.spatial.se3 import Array

_HOLE_OVER_HOLE = 2e-3  # by which a clearance hole and the one below it may differ [m]


def mate_of_part(
    parts: tuple[Placed, ...], found: tuple[Contact, ...], step: Removal, chosen: ChosenFeatures, base: int
) -> GuessedMate:
    """The mate of the part that comes off in that step, to the parts that stay."""
    part = step.part
    near = [c for c in found if part in (c.a, c.b) and c.other(part) in step.left]
    out = step.direction if step.direction is not None else _likely(near)
    along = [c for c in near if abs(float(c.axis @ out)) > PARALLEL]
    found_pairs = (pair_of_contact(c, part, out, chosen) for c in along if c.kind != "face")
    pairs = [p for p in found_pairs if p is not None]
    located = [p for p in pairs if p.contact.kind != "aligned"]
    over = [p for p in pairs if p.contact.kind == "aligned" and p.contact.play < _HOLE_OVER_HOLE]
    ranked = ranked_pairs(located, [] if parts[part].is_a("screw") else over, part, parts)
    kind = _kind(parts[part], along, ranked, part)
    if kind == "screw":
        ranked = [p for p in ranked if p.contact.kind == "thread"][:1]
    written = _written(parts, kind, step, ranked, along, chosen, base)
    if kind in ("screw", "ring") or not written.mate.pairs:
        return written
    beside = [c for c in along if c.kind == "aligned"]
    more = (*_close_by(parts, part, written.mate, beside, chosen), *squeezes(parts, part, step.left, chosen))
    return replace(written, mate=replace(written.mate, pairs=(*written.mate.pairs, *more)))


def _close_by(
    parts: tuple[Placed, ...], part: int, mate: Mate, beside: list[Contact], chosen: ChosenFeatures
) -> list[FeaturePair]:
    """A hole that ends at the hole of a part to which nothing else joins it: the two parts come together.
    Frames that other pairs use already are taken where there are any."""
    joined = {mate.into, *(p.fixed_part for p in mate.pairs)}
    found = []
    for c in beside:
        ways = [p for z in (c.axis, -c.axis) if (p := with_z(c, part, z, chosen)) is not None]
        if ways and parts[c.other(part)].name not in joined:
            joined.add(parts[c.other(part)].name)
            p = max(ways, key=lambda w: sum(k in chosen.chosen for k in keys(part, w)))
            _choose(parts, part, p, chosen, 0)
            found.append(_pair_of(parts, part, p, chosen))
    return found


def _likely(near: list[Contact]) -> Array:
    strongest = max(near, key=lambda c: (c.kind != "face", c.engaged), default=None)
    return strongest.axis if strongest is not None else np.array([0.0, 0.0, 1.0])


def _kind(placed: Placed, along: list[Contact], ranked: list[ContactPair], part: int) -> MateKind:
    kinds = {p.contact.kind for p in ranked}
    if "thread" in kinds and placed.is_a("screw"):
        return "screw"
    if "ring" in kinds:
        return "ring"
    if "gear" in kinds and kinds & {"round"}:
        return "gear-mesh"
    if not ranked or ranked[0].contact.kind == "aligned":
        return "seat"
    sits = any(c.kind == "face" for c in along)
    over = ranked[0].contact.kind == "round" and ranked[0].contact.a == part
    if ranked[0].contact.play < -1e-6 and ranked[0].contact.kind == "round":
        return "press"
    return "seat" if sits and over and ranked[0].contact.play < LOOSE else "insert"


def _written(
    parts: tuple[Placed, ...], kind: MateKind, step: Removal, ranked: list[ContactPair], along: list[Contact],
    chosen: ChosenFeatures, base: int,
) -> GuessedMate:  # fmt: skip
    part = step.part
    name = parts[part].name
    if not ranked:
        faces = [c for c in along if c.kind == "face"]
        why = "it only lies on a face: nothing of its shape says where" if faces else "nothing touches it"
        return GuessedMate(Mate(name, kind, name, parts[base].name, ()), 0.0, why)
    fits = sum(abs(p.contact.play) <= EQUAL and p.contact.kind == "round" for p in ranked)
    for p in ranked:
        _choose(parts, part, p, chosen, fits)
    _fix_turn(parts, part, ranked, chosen)
    into = _into(kind, ranked, along, part, base)
    free = _turns_freely(parts[part], ranked)
    mate = Mate(
        _mate_name(kind, name, parts[into].name), kind, name, parts[into].name,
        tuple(_pair_of(parts, part, p, chosen) for p in ranked), free_roll=free and kind != "gear-mesh",
    )  # fmt: skip
    questions = _questions(step, ranked, free)
    if kind == "screw":
        mate, more = _screw(parts, part, mate, along, ranked[0])
        questions += more
    telling = [p for p in ranked if p.contact.kind != "aligned"] or ranked
    sure = min(_sureness(p) for p in telling) * (0.6 if step.direction is None else 1.0)
    return GuessedMate(mate, round(sure, 2), "; ".join(_words(p) for p in ranked), tuple(questions))


def _into(kind: MateKind, ranked: list[ContactPair], along: list[Contact], part: int, base: int) -> int:
    """The part it becomes attached to: what a seat lies on most, the base if one pair is with it, else the
    first pair's."""
    first = ranked[0].other
    if kind in ("screw", "ring", "gear-mesh"):
        return first
    faces = [c for c in along if c.kind == "face"]
    if kind == "seat" and faces:
        return max(faces, key=lambda c: c.engaged).other(part)
    return base if any(p.other == base for p in ranked) else first


def _questions(step: Removal, ranked: list[ContactPair], free: bool) -> list[tuple[str, str]]:
    asked = []
    kinds = {p.contact.kind for p in ranked}
    if "gear" in kinds:
        asked.append(("pairs", "the backlash of the teeth is not drawn: write `backlash: [least, most]`"))
    if ranked[0].contact.kind == "aligned":
        words = "only clearance holes say where it goes: no hand finds a place by them; add dowels, or a nest"
        asked.append(("pairs", words))
    if step.direction is None:
        asked.append(("", "no free straight way out was found: does it go in as written?"))
    on_axis = all(off_axis(ranked[0].contact, p.contact) < ON_AXIS for p in ranked)
    if not free and on_axis and "gear" not in kinds:
        asked.append(("pairs", "nothing fixes its turn about the axis; it is put home as drawn"))
    return asked


def _sureness(p: ContactPair) -> float:
    """Coaxial and equal, or a thread's drill: nearly certain; the looser, the more it may be chance."""
    if p.contact.kind in ("thread", "ring"):
        return 0.95
    if p.contact.kind == "aligned":
        return 0.5
    return 0.95 if p.contact.play <= EQUAL else 0.9 if p.contact.play <= LOOSE else 0.8


def _words(p: ContactPair) -> str:
    c = p.contact
    if c.kind == "aligned":
        return f"a hole over a hole, {1e3 * c.play:.3g} mm wider or narrower"
    if c.kind == "gear":
        return f"teeth in mesh, centres off by {1e6 * c.play:.0f} um"
    if c.kind == "thread":
        return f"thread {1e3 * c.engaged:.3g} mm engaged, drawn at drill size"
    if c.kind == "ring":
        return "a ring in its groove"
    return f"coaxial, {1e3 * c.engaged:.3g} mm in each other, play {1e3 * c.play:.3g} mm as drawn"


def _choose(parts: tuple[Placed, ...], part: int, p: ContactPair, chosen: ChosenFeatures, fits: int) -> None:
    """Take both features into the project, as what this contact makes of them."""
    c = p.contact
    moving, fixed = keys(part, p)
    chosen.use(*moving)
    chosen.use(*fixed)
    if c.kind == "thread":
        standard = parts[c.b].standard
        thread = (standard.thread if standard is not None else None) or ""
        shank, hole = (moving, fixed) if part == c.b else (fixed, moving)
        chosen.change(*shank, as_screw(chosen.feature(*shank), thread), "", f"thread {thread} of a screw")
        tapped = chosen.feature(*hole)
        if tapped.kind == "hole":
            doubt = "depth of full thread: taken as the drill's depth less three pitches"
            why = f"drilled for {thread}, and a screw goes in"
            chosen.change(*hole, as_tapped(tapped, thread, c.engaged), doubt, why)
        return
    if c.kind == "gear":
        ours, theirs = chosen.pose(*moving), chosen.pose(*fixed)
        if float(ours[:3, 2] @ theirs[:3, 2]) < 0:
            chosen.change(*moving, turned_over(chosen.feature(*moving)), "")
        return
    if c.kind in ("round", "slot"):
        _fit(parts, c, moving if part == c.a else fixed, fixed if part == c.a else moving, chosen, fits)


def _fit(
    parts: tuple[Placed, ...], c: Contact, hole: tuple[int, str, int], shaft: tuple[int, str, int],
    chosen: ChosenFeatures, fits: int,
) -> None:  # fmt: skip
    standard = parts[c.b].standard
    pin = standard.fit if standard is not None else None
    guess = guess_fit(c.play, fits, pin)
    if guess.hole is None:
        return
    question = guess.question
    for key, fit in ((hole, guess.hole), (shaft, guess.shaft)):
        feature = chosen.feature(*key)
        if feature.fit is None and feature.kind in ("hole", "slot", "shaft"):
            chosen.change(*key, replace(feature, fit=fit), question)
            question = ""  # asked once, at the first of the two that the drawing leaves open


def _fix_turn(
    parts: tuple[Placed, ...], part: int, ranked: list[ContactPair], chosen: ChosenFeatures
) -> None:
    """Where no second pair sets the turn, the x axes of the first pair's frames do: they are made to
    agree."""
    if not ranked or any(off_axis(ranked[0].contact, p.contact) > ON_AXIS for p in ranked):
        return
    if _turns_freely(parts[part], ranked):
        return
    p = ranked[0]
    key = (part, *p.moving)
    x = chosen.pose(p.other, *p.fixed)[:3, 0]
    x_in_part = parts[part].T_assembly_part[:3, :3].T @ x
    chosen.change(*key, with_x(chosen.feature(*key), x_in_part), "")


def _turns_freely(placed: Placed, ranked: list[ContactPair]) -> bool:
    first = ranked[0].contact
    if any(off_axis(first, p.contact) > ON_AXIS for p in ranked):
        return False
    return is_round(placed, first.axis, first.origin)


def _pair_of(parts: tuple[Placed, ...], part: int, p: ContactPair, chosen: ChosenFeatures) -> FeaturePair:
    ours, theirs = chosen.pose(part, *p.moving), chosen.pose(p.other, *p.fixed)
    T_fixed_moving = se3.inverse(theirs) @ ours
    depth = round(float(T_fixed_moving[2, 3]), 9) + 0.0
    return FeaturePair(chosen.use(part, *p.moving), parts[p.other].name, chosen.use(p.other, *p.fixed), depth)


def _mate_name(kind: MateKind, part: str, into: str) -> str:
    if kind == "screw":
        return part.replace("_", "-")
    word = {"seat": "on", "ring": "in", "gear-mesh": "in-mesh-on"}.get(kind, "in")
    return f"{part}-{word}-{into}".replace("_", "-")


def _screw(
    parts: tuple[Placed, ...], part: int, mate: Mate, along: list[Contact], first: ContactPair
) -> tuple[Mate, list[tuple[str, str]]]:
    standard = parts[part].standard
    thread = standard.thread if standard is not None else None
    through = {c.a for c in along if c.kind == "round" and c.b == part and c.a != first.other}
    clamps = tuple(parts[k].name for k in sorted(through))
    torque = guessed_torque(thread or "M4")
    doubt = f"class and torque are not in the drawing: for {ASSUMED_CLASS}, slightly oiled to dry"
    named = replace(mate, tool="driver", torque=torque, clamps=clamps, free_roll=True)
    return named, [("torque", doubt)]
