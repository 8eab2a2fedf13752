"""Hands: jaws that open wide enough for what they must take."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from handfast.checking.built_apart import stands_at
from handfast.checking.case import Case, Rule
from handfast.model.feature import Feature
from handfast.model.finding import Finding
from handfast.model.jaw_limits import MOST_NOISE, SLIPPED
from handfast.model.part import Part
from handfast.model.tool import Tool


def jaws(case: Case) -> Iterator[Finding]:
    """Parts and tools that no jaw can take."""
    openings = [g.opening for g in case.project.cell.grippers if g.zones]
    if not openings or case.broken:
        return  # what could not be read may be what is lacking
    widest = max(high for _, high in openings)
    taken = _taken_by_a_hand(case)
    for path, item in case.items():
        if item.name not in taken:
            continue
        widths = grip_widths(item)
        if not widths:
            fix = "add a shaft, or two faces that look away from each other"
            yield case.finding("nothing-to-grip", path, "something that jaws can take", "neither", fix)
        elif not any(low <= w < high for w in widths for low, high in openings):
            found = f"widths of {', '.join(f'{1e3 * w:.4g} mm' for w in sorted(widths))}"
            expected = f"something narrower than the widest jaw, {1e3 * widest:.4g} mm"
            yield case.finding(
                "jaw-too-narrow", path, expected, found, "open the jaws wider, or add a feature"
            )


def _taken_by_a_hand(case: Case) -> set[str]:
    """The tools, and the parts that go home; but not screws that a bit takes up and keeps."""
    keeping = {t.name for t in case.project.cell.tools if t.spindle.retains != "none"}
    moved = {m.part for m in case.project.product.mates if m.kind != "screw" or m.tool not in keeping}
    moved |= {part for part, places in stands_at(case).items() if places - {_start(case, part)}}
    return moved | {t.name for t in case.project.cell.tools}


def _start(case: Case, part: str) -> str:
    """Where it lies at the start, "" if nowhere."""
    held = [(h, p) for h in case.project.cell.holders for p in h.places if p.holds == part]
    return f"place.{held[0][0].name}.{held[0][1].name}" if held else ""


def grip_widths(item: Part | Tool) -> set[float]:
    """Widths [m] between the pads at which this can be held: of its shafts, and between opposing faces."""
    features = [f for f in item.features if f.grip]
    widths = {f.diameter for f in features if f.kind == "shaft" and f.diameter is not None}
    faces = [f for f in features if f.kind == "face"]
    for i, a in enumerate(faces):
        for b in faces[:i]:
            width = _across(a, b)
            if width is not None:
                widths.add(width)
    return widths


def _across(a: Feature, b: Feature) -> float | None:
    """Distance between two faces that look away from each other, or None."""
    A, B = a.frame.matrix, b.frame.matrix
    if float(A[:3, 2] @ B[:3, 2]) > -np.cos(np.radians(1)):
        return None
    width = float((A[:3, 3] - B[:3, 3]) @ A[:3, 2])
    return round(width, 9) if width > 0 else None


def suction(case: Case) -> Iterator[Finding]:
    """Grippers that hold by suction."""
    for gripper in case.project.cell.grippers:
        if gripper.suction is not None:
            path = ("cell", "grippers", gripper.name, "suction")
            fix = "hold the parts with two fingers, and leave `suction` out"
            yield case.finding("not-planned-yet", path, "a gripper with two fingers", "a suction cup", fix)


def width_noise(case: Case) -> Iterator[Finding]:
    """Grippers whose reading of the width is too noisy to tell a slip by."""
    for gripper in case.project.cell.grippers:
        if gripper.width_noise > MOST_NOISE:
            path = ("cell", "grippers", gripper.name, "width_noise")
            expected = (
                f"{1e3 * MOST_NOISE:.3f} mm at most: jaws that move by {1e3 * SLIPPED:.1f} mm have slipped"
            )
            found = f"{1e3 * gripper.width_noise:.3g} mm"
            fix = "write one sigma of the reading, not its whole range"
            yield case.finding("width-too-noisy", path, expected, found, fix)


RULES = (
    Rule(
        "width-too-noisy",
        "What is held has slipped if the jaws' width has changed by 0.2 mm: six sigma of the difference of "
        "two readings have to stay below that.",
        width_noise,
    ),
    Rule(
        "nothing-to-grip",
        "Whatever a hand must take needs a shaft, or two faces that look away from each other.",
        jaws,
    ),
    Rule("jaw-too-narrow", "Some gripper must open wider than some shaft or pair of faces of the part."),
    Rule(
        "not-planned-yet",
        "A belt bends while it is put on, and a suction cup gives way: both can be written down, but neither "
        "planned nor proven yet.",
        suction,
    ),
)
