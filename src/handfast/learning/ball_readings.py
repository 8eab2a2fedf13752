"""What logs say of guarded moves onto the ball of an artefact."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from handfast.model.finger_face import finger_faces
from handfast.model.project import Project
from handfast.model.run_log import RunLog
from handfast.spatial.se3 import Array


@dataclass(frozen=True, eq=False, slots=True)
class BallReading:
    """One touch, made once or more. log: number of the log, for jaws are closed anew for each; ball: which
    standing of the artefact it met; T_world_tip (4, 4): of the arm by its own reckoning where it began;
    point, normal (3,): of the face that met it, in the grip frame; direction (3,): in the world; radius [m];
    travels (n,) [m]."""

    arm: str
    log: int
    ball: tuple[int, int]
    name: str
    T_world_tip: Array
    point: Array
    normal: Array
    direction: Array
    radius: float
    travels: Array

    @property
    def travel(self) -> float:
        """Mean of the repeats [m]."""
        return float(self.travels.mean())

    @property
    def count(self) -> int:
        """How often it was made."""
        return len(self.travels)


def ball_readings(project: Project, logs: Sequence[RunLog]) -> list[BallReading]:
    """Every touch of closed fingers that met its ball, repeats together."""
    grouped: dict[tuple[int, int, str], list[tuple[float, Array, Array]]] = {}
    for number, log in enumerate(logs):
        for line in log.lines:
            if line.event == "ball" and line.pose is not None and line.value("met"):
                values = [line.value(n) or 0.0 for n in ("travel", "x", "y", "z", "placed")]
                key = (number, int(values[4]), line.text)
                grouped.setdefault(key, []).append((values[0], line.pose.matrix, np.array(values[1:4])))
    out = []
    for (number, placed, text), found in grouped.items():
        artefact_name, _, arm, _, face_name = text.split("/")
        artefact = next((a for a in project.cell.artefacts if a.name == artefact_name), None)
        faces = {f.name: f for f in finger_faces(project.cell.gripper_of(arm))}
        if artefact is None or face_name not in faces:
            continue
        face = faces[face_name]
        _, T_world_tip, direction = found[0]
        out.append(
            BallReading(
                arm, number, (number, placed), text, T_world_tip, np.array(face.point), np.array(face.normal),
                direction, artefact.radius, np.array([t for t, _, _ in found]),
            )
        )  # fmt: skip
    return out
