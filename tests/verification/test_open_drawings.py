"""CAD files that others drew, by other CAD programs: what is found in them, reviewed by eye in pictures.

frame.step (in inches, by a program that splits bores) and screw.step come with netgen-mesher, bracket.step
with pyvista-cad; `make verify` installs both packages. What is expected here was counted in pictures that
`handfast features FILE --pictures DIR` drew, faces coloured by kind.
"""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from handfast.workflow.drawn_features import PartFeatures, drawn_features


def installed(path: str) -> Path | None:
    """The file in a folder of installed packages; None if it is not there."""
    return next((Path(p) / path for p in sys.path if (Path(p) / path).is_file()), None)


FILES = {
    "frame": installed("share/netgen/frame.step"),
    "screw": installed("share/netgen/screw.step"),
    "bracket": installed("pyvista_cad/examples/data/bracket.step"),
}
pytestmark = pytest.mark.skipif(None in FILES.values(), reason="`make verify` installs the drawings")


def part(name: str) -> tuple[tuple[str, ...], PartFeatures]:
    path = FILES[name]
    assert path is not None
    assembly, (only,) = drawn_features(path)
    return assembly.notes, only


def test_a_frame_in_inches_with_forty_holes_and_twelve_slots() -> None:
    notes, frame = part("frame")
    assert notes == ("the file is in inches; everything here is converted",)
    assert np.ptp(frame.drawing.graph.vertices, axis=0).max() == pytest.approx(32 * 25.4e-3, rel=0.01)
    sure = [d for d in frame.found.features if d.sure > 0.9]
    forms = Counter((d.feature.kind, d.form) for d in sure)
    assert forms["hole", "counterbore"] == forms["hole", "counterbored through"] == 20
    assert forms["hole", "blind"] == 14
    assert forms["hole", "through"] == 2
    assert forms["slot", "blind, round ends"] == 12
    # The ends of four pockets reach a little more than half way around: taken for holes, but unsure.
    unsure = [d for d in frame.found.features if d.sure <= 0.9]
    assert {d.feature.kind for d in unsure} == {"hole"}
    assert [d.sure for d in unsure] == [0.6] * 4
    small = {
        round(d.feature.diameter / 25.4e-3, 3)
        for d in sure
        if d.form == "counterbored through"
        if d.feature.diameter
    }
    assert small == {0.385}  # drawn in thousandths of an inch


def test_a_slotted_countersunk_screw() -> None:
    _, screw = part("screw")
    found = {d.feature.kind: d.feature for d in screw.found.features}
    assert found["shaft"].diameter == pytest.approx(10e-3)
    assert found["slot"].size is not None
    assert found["slot"].size[1] == pytest.approx(2.5e-3)
    assert screw.standard is None  # ISO 4762 has no such head
    assert all(screw.found.reasons.values())


def test_an_angle_with_one_fillet() -> None:
    _, bracket = part("bracket")
    assert Counter(d.feature.kind for d in bracket.found.features) == {"face": 8}
    assert list(bracket.found.reasons.values()) == [
        "a cylinder, but only 90 deg around: a fillet that holds nothing"
    ]
    assert min(g.width for g in bracket.grips) == pytest.approx(10e-3)
