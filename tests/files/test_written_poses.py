"""Poses written into a cell file."""

from __future__ import annotations

from pathlib import Path

from handfast.files.written_poses import Standing, with_poses
from handfast.spatial.pose import Pose

CELL = """\
arms:
  left: &arm
    base: {position: [0 mm, 0 mm, 0 mm]}   # bolted
    speed: 60 %
  right:
    <<: *arm
holders:
  tray:
    at:   # turned by hand
      position: [1 mm, 2 mm, 0 mm]
      turn: [0 deg, 0 deg, 5 deg]

    kind: tray
  nest: {kind: nest, at: &here {position: [9 mm, 9 mm, 0 mm]}}
  stand: {kind: stand, at: *here}
"""
QUARTER = Pose((0.0125, -0.2, 0.03), (0.5**0.5, 0.0, 0.0, 0.5**0.5))
NEW = "{position: [12.5 mm, -200 mm, 30 mm], turn: [0 deg, 0 deg, 90 deg]}"


def test_only_what_is_written_there_changes(tmp_path: Path) -> None:
    path = tmp_path / "cell.yaml"
    path.write_text(CELL)
    names = (("arm", "left"), ("arm", "right"), ("holder", "tray"), ("holder", "nest"), ("holder", "stand"))
    text, left = with_poses(path, [Standing(kind, name, QUARTER) for kind, name in names])  # type: ignore[arg-type]
    # Taken over from another, or by another: not written for both behind one's back.
    assert [one.name for one in left] == ["right", "nest", "stand"]
    assert text == CELL.replace("{position: [0 mm, 0 mm, 0 mm]}", NEW).replace(
        "position: [1 mm, 2 mm, 0 mm]\n      turn: [0 deg, 0 deg, 5 deg]", NEW
    )
    assert path.read_text() == CELL


def test_a_thing_that_is_not_there(tmp_path: Path) -> None:
    path = tmp_path / "cell.yaml"
    path.write_text("holders: {}\n")
    one = Standing("holder", "tray", QUARTER)
    assert with_poses(path, [one]) == ("holders: {}\n", (one,))
