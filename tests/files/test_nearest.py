from __future__ import annotations

import pytest

from handfast.files.nearest import nearest

NAMES = ("feature.body.right_3", "feature.body.dowel_a", "feature.cover.pin_hole", "arm.left.base")


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("feature.body.dowel_b", "feature.body.dowel_a"),
        ("Feature.Cover.pin_hole", "feature.cover.pin_hole"),
        ("arm.left.bas", "arm.left.base"),
        ("feature.body.lobe_drive", ""),  # of the same part, and nothing else alike
        ("", ""),
    ],
)
def test_the_name_that_was_meant(written: str, meant: str) -> None:
    assert nearest(written, NAMES) == (f"write {meant!r}" if meant else "")
    assert nearest(written, ()) == ""
