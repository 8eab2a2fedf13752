"""The moving cell as glTF: valid by the standard's own validator, and moving as the chart does."""

from __future__ import annotations

import json
import struct
import subprocess
from pathlib import Path
from typing import Any

import numpy as np
import playwright
import pytest
from tests.page.first_fit_chart import first_fit_chart

from handfast.kinematics.chain import Chain
from handfast.model.project import Project
from handfast.page.moment import placed
from handfast.report.animated_cell import animated_cell
from handfast.spatial.se3 import Array, rotation_from_quaternion

CHART = first_fit_chart()
# The Khronos validator as npm has it (gltf-validator 2.0.0-dev.3.10, Apache-2.0), run by the Node.js that
# comes with Playwright.
VALIDATOR = Path(__file__).parent / "gltf_validator"
NODE = Path(playwright.__file__).parent / "driver" / "node"
PROGRAM = """
const validator = require(process.argv[1]);
const data = new Uint8Array(require("fs").readFileSync(process.argv[2]));
validator.validateBytes(data, {maxIssues: 100}).then((r) => console.log(JSON.stringify(r)));
"""


@pytest.fixture(scope="module")
def data(project: Project, chains: dict[str, Chain]) -> bytes:
    return animated_cell(project, CHART, chains)


@pytest.fixture(scope="module")
def document(data: bytes) -> dict[str, Any]:
    """The JSON chunk; the binary one under "bytes"."""
    assert struct.unpack("<4sII", data[:12]) == (b"glTF", 2, len(data))
    length = struct.unpack("<I", data[12:16])[0]
    found: dict[str, Any] = json.loads(data[20 : 20 + length])
    return found | {"bytes": data[28 + length :]}


def values(document: dict[str, Any], index: int) -> Array:
    accessor = document["accessors"][index]
    view = document["bufferViews"][accessor["bufferView"]]
    wide = {"SCALAR": 1, "VEC3": 3, "VEC4": 4}[accessor["type"]]
    found = np.frombuffer(document["bytes"], "<f4", accessor["count"] * wide, view["byteOffset"])
    return np.asarray(found.reshape(-1, wide), dtype=np.float64)


def test_the_standards_validator_finds_nothing(data: bytes, tmp_path: Path) -> None:
    """Khronos glTF validator, from npm."""
    file = tmp_path / "cell.glb"
    file.write_bytes(data)
    done = subprocess.run([NODE, "-e", PROGRAM, str(VALIDATOR), str(file)], capture_output=True, text=True,
                          check=True)  # fmt: skip
    issues = json.loads(done.stdout)["issues"]
    assert issues["numErrors"] + issues["numWarnings"] == 0, issues["messages"][:5]
    broken = tmp_path / "broken.glb"
    broken.write_bytes(data.replace(b'"VEC4"', b'"VEC3"'))
    again = subprocess.run([NODE, "-e", PROGRAM, str(VALIDATOR), str(broken)], capture_output=True, text=True,
                           check=True)  # fmt: skip
    assert json.loads(again.stdout)["issues"]["numErrors"] > 0, "the validator does look"


def test_everything_that_moves_has_a_track_and_nothing_else(document: dict[str, Any]) -> None:
    names = [n["name"] for n in document["nodes"]]
    moving = {names[c["target"]["node"]] for c in document["animations"][0]["channels"]}
    assert {"part:pin", "part:cover", "tool:driver", "arm:left:link:3", "arm:right:palm",
            "arm:right:finger:-1", "arm:right:finger:1"} <= moving  # fmt: skip
    assert not moving & {"part:block", "holder:nest", "obstacle:table", "arm:left:link:-1"}
    assert names[document["scenes"][0]["nodes"][0]] == "cell"


def test_between_its_poses_it_stays_with_the_chart(
    document: dict[str, Any], project: Project, chains: dict[str, Chain]
) -> None:
    """Read as viewers do, straight lines from pose to pose: to 2 mm, the deviation of a chord of 40 ms of a
    motion with constant acceleration, a h^2 / 8, being well under that here."""
    names = [n["name"] for n in document["nodes"]]
    tracks: dict[str, dict[str, tuple[Array, Array]]] = {}
    animation = document["animations"][0]
    for channel in animation["channels"]:
        sampler = animation["samplers"][channel["sampler"]]
        track = values(document, sampler["input"])[:, 0], values(document, sampler["output"])
        tracks.setdefault(names[channel["target"]["node"]], {})[channel["target"]["path"]] = track
    for time in np.random.default_rng(3).uniform(0, CHART.makespan_s, 25):
        now = placed(project, CHART, chains, float(time))
        wanted = {"part:pin": now.items["pin"], "tool:driver": now.items["driver"],
                  "arm:left:palm": now.hands["left"], "arm:right:link:3": now.links["right"][4]}  # fmt: skip
        for name, T in wanted.items():
            t, positions = tracks[name]["translation"]
            at = np.array([np.interp(time, t, positions[:, k]) for k in range(3)])
            assert np.linalg.norm(at - T[:3, 3]) < 2e-3, (name, time)
            t, turns = tracks[name]["rotation"]
            xyzw = np.array([np.interp(time, t, turns[:, k]) for k in range(4)])
            w_first = np.roll(xyzw / np.linalg.norm(xyzw), 1)
            R = rotation_from_quaternion(w_first)
            assert np.abs(R - T[:3, :3]).max() < 0.02, (name, time)
