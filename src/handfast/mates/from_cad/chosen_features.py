"""The features that a project needs of each part: those that mates use, with the frame that the mate needs,
and the others as they were found."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from handfast.geometry.cad.drawn_feature import DrawnFeature, pose_of
from handfast.mates.from_cad.contacts import PARALLEL
from handfast.mates.from_cad.guess import GuessedFeature
from handfast.mates.from_cad.placed import Placed
from handfast.mates.from_cad.stated import as_stated
from handfast.model.feature import Chamfer, Feature
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import Array
from handfast.standards.threads import coarse_thread

_RUN_OUT = 3
"""Pitches that a tap needs below the full thread; common practice, no source."""


@dataclass(slots=True)
class ChosenFeatures:
    """Collects, while mates are recognised, which frame of which feature each one uses. By (part, drawn,
    end)."""

    parts: tuple[Placed, ...]
    chosen: dict[tuple[int, str, int], GuessedFeature] = field(default_factory=dict)

    def end_towards(self, part: int, drawn: str, z: Array) -> int | None:
        """Which frame of a feature has its z along a direction of the assembly; None: it cannot be used that
        way."""
        R = self.parts[part].T_assembly_part[:3, :3]
        for k, end in enumerate(self.parts[part].feature(drawn).ends):
            if float(R @ end.matrix[:3, 2] @ z) > PARALLEL:
                return k
        return None

    def use(self, part: int, drawn: str, end: int) -> str:
        """The name under which a mate may refer to that frame."""
        key = part, drawn, end
        if key not in self.chosen:
            d = self.parts[part].feature(drawn)
            said = as_stated(d, _with_end(d, end))
            self.chosen[key] = GuessedFeature(
                said.feature, drawn, end, True, d.sure, d.why, said.question, said.note
            )
        return self.chosen[key].feature.name

    def add(self, part: int, feature: Feature, sure: float, why: str) -> str:
        """Take in a feature that the drawing does not have as one; its name, numbered where it is taken."""
        taken = {g.feature.name for key, g in self.chosen.items() if key[0] == part}
        name, number = feature.name, 2
        while name in taken:
            name, number = f"{feature.name}_{number}", number + 1
        self.chosen[part, name, 0] = GuessedFeature(replace(feature, name=name), name, 0, True, sure, why)
        return name

    def change(self, part: int, drawn: str, end: int, feature: Feature, question: str, why: str = "") -> None:
        """Say more about a feature in use."""
        old = self.chosen[part, drawn, end]
        said = "\n".join(q for q in dict.fromkeys((old.question, question)) if q)
        self.chosen[part, drawn, end] = replace(
            old, feature=feature, question=said, why=f"{old.why}; {why}" if why else old.why
        )

    def feature(self, part: int, drawn: str, end: int) -> Feature:
        """As it stands."""
        return self.chosen[part, drawn, end].feature

    def pose(self, part: int, drawn: str, end: int) -> Array:
        """T_assembly_feature."""
        return np.asarray(self.parts[part].T_assembly_part @ self.feature(part, drawn, end).frame.matrix)

    def of_part(self, part: int) -> tuple[GuessedFeature, ...]:
        """Used ones first, then all others once."""
        used = [g for key, g in self.chosen.items() if key[0] == part]
        seen = {g.drawn for g in used}
        rest = [_unused(d) for d in self.parts[part].features if d.feature.name not in seen]
        return (*used, *rest)


def _unused(d: DrawnFeature) -> GuessedFeature:
    said = as_stated(d, _with_end(d, 0))
    asked = "\n".join(q for q in (_doubt(d), said.question) if q)
    return GuessedFeature(said.feature, d.feature.name, 0, False, d.sure, d.why, asked, said.note)


def _with_end(d: DrawnFeature, end: int) -> Feature:
    chamfer = d.chamfers[end]
    name = d.feature.name if end == 0 else f"{d.feature.name}_b"
    lead = Chamfer(*chamfer) if chamfer is not None else None
    return replace(d.feature, name=name, frame=d.ends[end], chamfer=lead)


def _doubt(d: DrawnFeature) -> str:
    if d.thread is not None and d.feature.kind == "hole":
        return f"{1e3 * (d.feature.diameter or 0):.3g} mm is the drill for {d.thread}: is it tapped?"
    return ""


def as_tapped(hole: Feature, thread: str, needed: float) -> Feature:
    """The hole as the thread it is drilled for. needed: how deep the screw goes [m]."""
    table = coarse_thread(thread)
    length = hole.length or 0.0
    mouth = (hole.diameter or 0.0) / 2 + (hole.chamfer.width if hole.chamfer is not None else 0.0)
    width = mouth - table.diameter / 2
    chamfer = Chamfer(width, hole.chamfer.angle) if hole.chamfer is not None and width > 20e-6 else None
    full = min(length, max(length - _RUN_OUT * table.pitch, needed + table.pitch))
    return Feature(
        hole.name, "thread", hole.frame, length=full, thread=thread, chamfer=chamfer,
        position_tolerance=hole.position_tolerance,
    )  # fmt: skip


def as_screw(shank: Feature, thread: str) -> Feature:
    """The shank as a screw's thread."""
    return Feature(shank.name, "thread", shank.frame, length=shank.length, thread=thread, internal=False)


def turned_over(gear: Feature) -> Feature:
    """A gear's frame at its other side: z the other way, x through the same tooth."""
    T = gear.frame.matrix
    at = T[:3, 3] - (gear.length or 0.0) * T[:3, 2]
    return replace(gear, frame=pose_of(at, -T[:3, 2], T[:3, 0]))


def with_x(feature: Feature, x: Array) -> Feature:
    """The same frame with its x turned to a direction of the part."""
    T = feature.frame.matrix
    pose: Pose = pose_of(T[:3, 3], T[:3, 2], x)
    return replace(feature, frame=pose)
