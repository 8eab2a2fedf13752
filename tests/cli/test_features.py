"""handfast features, and handfast new --from, as a person uses them."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from handfast.cli.app import app
from handfast.geometry.drawn_block import block_with_bore
from handfast.page.feature_picture import Coloured, feature_picture

PUMP = Path(__file__).parents[2] / "projects" / "dosing-pump" / "assembly.step"


def test_one_part_is_listed_and_drawn(tmp_path: Path) -> None:
    done = CliRunner().invoke(
        app, ["features", str(PUMP), "--part", "screw_2", "--pictures", str(tmp_path), "--why"]
    )
    assert done.exit_code == 0, done.output
    assert "screw: 13 faces" in done.stdout
    assert "used 4 times; ISO 4762 M4 x 12" in done.stdout
    assert "socket_3" in done.stdout
    assert (tmp_path / "screw.png").read_bytes().startswith(b"\x89PNG")


def test_as_json_with_a_reason_for_each_other_face() -> None:
    done = CliRunner().invoke(app, ["features", str(PUMP), "--part", "cover", "--json"])
    (cover,) = json.loads(done.stdout)["parts"]
    slot = next(f for f in cover["features"] if f["kind"] == "slot")
    assert slot["size_m"] == pytest.approx([0.0056, 0.005])
    assert all(cover["no_feature"].values())


def test_what_cannot_be_used_ends_with_2(tmp_path: Path) -> None:
    (tmp_path / "bad.step").write_text("")
    for asked, words in (
        (["features", str(tmp_path / "bad.step")], "found an empty one"),
        (["features", str(PUMP), "--part", "lid"], "found 'lid'"),
        (["new", str(tmp_path / "rig"), "--from", str(tmp_path / "none.step")], "cannot be read"),
        (["new", str(tmp_path / "rig"), "--from", str(PUMP), "--base", "lid"], "expected one of body"),
    ):
        done = CliRunner().invoke(app, asked)
        assert done.exit_code == 2, asked
        assert words in done.stderr


def test_the_picture_shows_each_kind_in_its_colour() -> None:
    square = np.array([[[0, 0, 0], [1, 0, 0], [1, 1, 0]], [[0, 0, 0], [1, 1, 0], [0, 1, 0]]], dtype=float)
    one = feature_picture([Coloured(square, "face")])
    other = feature_picture([Coloured(square, "hole")])
    assert one.startswith(b"\x89PNG")
    assert one != other


def test_a_mesh_is_read_as_one_part_and_begins_a_project(tmp_path: Path) -> None:
    part = tmp_path / "bush.stl"
    part.write_bytes(block_with_bore((0.04, 0.03, 0.012), 8e-3, 7e-3, 1e-3))
    done = CliRunner().invoke(app, ["features", str(part), "--json"])
    (bush,) = json.loads(done.stdout)["parts"]
    (hole,) = (f for f in bush["features"] if f["kind"] == "hole")
    # The corners of a circumscribed bore of 96 flats stand on a circle wider by 1 / cos(pi / 96).
    assert hole["diameter_m"] == pytest.approx(8e-3 / np.cos(np.pi / 96), abs=1e-6)
    assert hole["sure"] < 0.9
    done = CliRunner().invoke(app, ["new", str(tmp_path / "rig"), "--from", str(part), "--unit", "cm"])
    assert done.exit_code == 0, done.output
    assert "wrote" in done.stdout
    assert "size: [400 mm, 300 mm]" in (tmp_path / "rig" / "product.yaml").read_text()
