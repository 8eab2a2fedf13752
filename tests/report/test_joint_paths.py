"""Joint paths, read as a robot's integrator would read them."""

from __future__ import annotations

import csv
import io
import json

import numpy as np
import pinocchio
import pytest
from tests.page.first_fit_chart import first_fit_chart
from tests.report.conftest import FOLDER

from handfast.kinematics.chain import Chain
from handfast.page.moment import joints_at, moment
from handfast.report.content import ReportInput
from handfast.report.joint_paths import joint_paths_csv, joint_paths_json
from handfast.spatial.se3 import Array

CHART = first_fit_chart()
HANDS = ("left", "right")


@pytest.fixture(scope="module")
def text(given: ReportInput, chains: dict[str, Chain]) -> str:
    return joint_paths_csv(given.page, chains)


@pytest.fixture(scope="module")
def columns(text: str) -> dict[str, Array]:
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    rows = list(csv.DictReader(io.StringIO("\n".join(lines))))
    return {name: np.array([float(r[name]) for r in rows]) for name in rows[0]}


def angles(columns: dict[str, Array], hand: str, unit: str = "rad") -> Array:
    return np.stack(
        [v for n, v in columns.items() if n.startswith(f"{hand}.") and n.endswith(f"_{unit}")], axis=1
    )


def test_the_head_says_units_frames_hashes_and_cautions(text: str, given: ReportInput) -> None:
    head = "\n".join(line for line in text.splitlines() if line.startswith("#"))
    for said in ("rad/s", "T_world_root", "quaternion (w, x, y, z)", "arms/arm.urdf from base to flange",
                 given.page.chart_sha256, "emergency stop", "ISO 10218", "0.004 s"):  # fmt: skip
        assert said in head


def test_one_line_each_controller_period(columns: dict[str, Array]) -> None:
    time = columns["time_s"]
    assert np.diff(time)[:-1] == pytest.approx(0.004, abs=1e-9)
    assert (time[0], time[-1]) == (0.0, pytest.approx(CHART.makespan_s, abs=1e-4))


@pytest.mark.parametrize("hand", HANDS)
def test_the_samples_are_the_charts_motion(
    columns: dict[str, Array], chains: dict[str, Chain], hand: str
) -> None:
    found = angles(columns, hand)
    for i in np.random.default_rng(5).integers(0, len(found), 40):
        wanted = joints_at(CHART, chains[hand], float(columns["time_s"][i]))
        np.testing.assert_allclose(found[i], wanted, atol=1e-8)


@pytest.mark.parametrize("hand", HANDS)
def test_speeds_add_up_to_the_way(columns: dict[str, Array], hand: str) -> None:
    """Central differences are exact for constant acceleration: everywhere but around knots and where one
    made-up motion of this chart jumps to the next."""
    q, v, t = angles(columns, hand), angles(columns, hand, "rad_per_s"), columns["time_s"]
    found = (q[2:] - q[:-2]) / (t[2:] - t[:-2])[:, None]
    same = np.abs(found - v[1:-1]).max(axis=1) < 1e-5
    assert np.abs(v).max() > 0.3
    assert same.mean() > 0.98


def test_hands_played_from_the_file_stand_where_the_chart_has_them(
    columns: dict[str, Array], given: ReportInput, chains: dict[str, Chain]
) -> None:
    """By the URDF, the frames of the JSON file and pinocchio alone."""
    document = json.loads(joint_paths_json(given.page, chains))
    for arm in document["arms"]:
        model = pinocchio.buildModelFromUrdf(str(FOLDER / arm["urdf"]))
        frames = model.createData()
        for i in (0, len(columns["time_s"]) // 3, 2 * len(columns["time_s"]) // 3):
            pinocchio.framesForwardKinematics(model, frames, angles(columns, arm["name"])[i])
            root, tip = (frames.oMf[model.getFrameId(arm[n])] for n in ("root", "tip"))
            hand = pose(arm["T_world_root"]) * root.actInv(tip) * pose(arm["T_tip_grip"])
            when = moment(given.page.project, CHART, float(columns["time_s"][i]))
            np.testing.assert_allclose(when.hands[arm["name"]], hand.homogeneous, atol=1e-7)


def pose(given: dict[str, list[float]]) -> pinocchio.SE3:
    w, x, y, z = given["quaternion"]
    return pinocchio.SE3(pinocchio.Quaternion(w, x, y, z).matrix(), np.array(given["position"]))


def test_the_exact_motions_are_all_there(given: ReportInput, chains: dict[str, Chain]) -> None:
    document = json.loads(joint_paths_json(given.page, chains))
    assert document["units"] == {"time": "s", "angle": "rad", "speed": "rad/s", "length": "m"}
    for arm in document["arms"]:
        own = [(e.number, m) for e in CHART.elements if e.hand == arm["name"] for m in e.motions]
        assert [(m["element"], tuple(m["t"])) for m in arm["motions"]] == [(n, m.t) for n, m in own]
        assert [tuple(map(tuple, m["q"])) for m in arm["motions"]] == [m.q for _, m in own]
