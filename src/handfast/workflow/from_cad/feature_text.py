"""A guessed feature as a line of product.yaml, its doubts above it."""

from __future__ import annotations

import numpy as np

from handfast.files.starter.written import mm, row
from handfast.geometry.cad.around import across
from handfast.mates.from_cad.guess import GuessedFeature
from handfast.model.feature import Feature
from handfast.spatial.se3 import Array

SURE = 0.945
"""What is surer than that is not remarked on."""
_AXES = {(0, 1): "+x", (0, -1): "-x", (1, 1): "+y", (1, -1): "-y", (2, 1): "+z", (2, -1): "-z"}
_WIDE = 118


def feature_lines(guess: GuessedFeature, indent: str) -> list[str]:
    """Comments, then the entry itself, on one line or two."""
    lines = []
    if guess.sure < SURE:
        lines.append(f"{indent}# sure {guess.sure:.2f}: {guess.why}")
    if guess.note:
        lines += [f"{indent}# {note}" for note in guess.note.split("; ")]
    if guess.question:
        lines += [f"{indent}# ? {question}" for question in guess.question.split("\n")]
    return lines + wrapped(f"{indent}{guess.feature.name}: ", feature_values(guess.feature))


def feature_values(f: Feature) -> list[str]:
    """Its keys and values, in the order of the schema."""
    T = f.frame.matrix
    values = [f"kind: {f.kind}", f"at: {row(*T[:3, 3])}", f"z_along: {direction(T[:3, 2])}"]
    if abs(float(across(T[:3, 2])[0] @ T[:3, 0])) < 1 - 1e-9 or f.kind in ("slot", "gear"):
        values.append(f"x_along: {direction(T[:3, 0])}")
    values += [f"{key}: {mm(v)}" for key, v in (("diameter", f.diameter),) if v is not None]
    values += [f"fit: {f.fit}"] if f.fit else []
    values += [f"position_tolerance: {mm(f.position_tolerance)}"] if f.position_tolerance else []
    values += [f"length: {mm(f.length)}"] if f.length is not None and f.kind != "face" else []
    values += [f"size: [{mm(f.size[0])}, {mm(f.size[1])}]"] if f.size is not None else []
    values += [f"thread: {f.thread}"] if f.thread else []
    values += ["external: true"] if f.kind == "thread" and not f.internal else []
    values += [f"teeth: {f.teeth}"] if f.teeth else []
    values += [f"module: {mm(f.module)}"] if f.module else []
    if f.chamfer is not None:
        angle = f"{np.rad2deg(f.chamfer.angle):.6g} deg"
        values.append(f"chamfer: {{width: {mm(f.chamfer.width)}, angle: {angle}}}")
    return values + ([] if f.grip else ["grip: false"])


def direction(v: Array) -> str:
    """An axis by name, or three numbers."""
    k = int(np.argmax(np.abs(v)))
    if abs(float(v[k])) > 1 - 1e-9:
        return _AXES[k, 1 if v[k] > 0 else -1]
    return "[" + ", ".join(f"{float(x) + 0.0:.9g}" for x in np.round(v, 9)) + "]"


def wrapped(head: str, values: list[str]) -> list[str]:
    """`head {a, b}` on one line, or on as many as it needs."""
    lines, line = [], head + "{"
    for k, value in enumerate(values):
        piece = value + ("}" if k == len(values) - 1 else ", ")
        if len(line) + len(piece) > _WIDE and k:
            lines.append(line.rstrip())
            line = " " * (len(head) + 1)
        line += piece
    return [*lines, line]
