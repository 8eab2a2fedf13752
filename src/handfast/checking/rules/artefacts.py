"""What a person sets down to be touched stands free, and fingers meet it where they are flat."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from handfast.checking.case import Case, Rule
from handfast.checking.rules.holders import IN_MATERIAL, lying
from handfast.geometry.mesh import MeshError
from handfast.geometry.overlap import overlap_depth
from handfast.model.finding import Finding

_EDGE = 0.5e-3  # a ball is to be met this far from the edges of a finger [m]; own choice, no source


def stands_free(case: Case) -> Iterator[Finding]:
    """Stands at which the artefact would be in the material of something else."""
    if any(path[0] in ("cell", "product") for path in case.broken):
        return
    cell, folder = case.project.cell, case.project.folder
    others = [(f"holder {h.name}", h.solids, h.pose.matrix) for h in cell.holders]
    others += [(f"obstacle {o.name}", o.solids, np.eye(4)) for o in cell.obstacles]
    others += [(item.name, item.solids, T) for _, item, T in lying(case)]
    for artefact in cell.artefacts:
        for stand in artefact.stands:
            path = ("cell", "artefacts", artefact.name, "stands", stand.name, "at")
            for name, solids, T_world_other in others:
                try:
                    depth = overlap_depth(artefact.solids(), stand.pose.matrix, solids, T_world_other, folder)
                except MeshError:
                    continue  # `mesh-unreadable` tells of it
                if depth > IN_MATERIAL:
                    found = f"{artefact.name} {1e3 * depth:.2g} mm deep in {name}"
                    yield case.finding(
                        "stand-in-material", path, "a stand that is free", found, "move the stand"
                    )


def fingers_wide_enough(case: Case) -> Iterator[Finding]:
    """A ball that may stand so far off that a finger meets it with an edge."""
    for artefact in case.project.cell.artefacts:
        for gripper in case.project.cell.grippers:
            room = min(gripper.finger_size[:2]) / 2 - _EDGE
            if 0 < room < artefact.slack:
                path = ("cell", "artefacts", artefact.name, "slack")
                expected = (
                    f"{1e3 * room:.3g} mm at most: beyond, the fingers of {gripper.name} meet it with an edge"
                )
                yield case.finding("slack-beyond-finger", path, expected, f"{1e3 * artefact.slack:.3g} mm")


RULES = (
    Rule(
        "stand-in-material",
        "Where an artefact is set down nothing else stands.",
        stands_free,
    ),
    Rule(
        "slack-beyond-finger",
        "A ball is touched with the flat of a finger: it may stand off by less than half the finger's width.",
        fingers_wide_enough,
    ),
)
