"""Arms of several makes, six and seven axes, from open robot data: a small cell planned and proven with each.

The data are the package example-robot-data, which `make verify` installs; its URDFs name their meshes by
package:// and have fingers as joints.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pinocchio as pin
import pytest
from tests.files.first_fit_copy import edit, folder_sha256
from tests.kinematics.layouts import PARALLEL
from tests.kinematics.layouts import arm as by_lengths
from tests.verification.robot_cells import DATA, SEVEN_AXES, SEVEN_MORE, SIX_AXES, Robot, write_cell

from handfast.checking.check import check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.kinematics.chain import load_chain
from handfast.kinematics.forward import forward
from handfast.kinematics.inverse import inverse
from handfast.model.arm import Arm
from handfast.model.chart import Chart
from handfast.model.finding import Finding
from handfast.model.package_file import homes_of, package_file
from handfast.spatial import se3
from handfast.spatial.pose import Pose
from handfast.workflow import plan, verify

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not any(homes_of("example-robot-data")), reason="`make verify` installs the data"),
]
ROBOTS = {"six": SIX_AXES, "seven": SEVEN_AXES, "seven more": SEVEN_MORE}


def arm(robot: Robot) -> Arm:
    home = tuple(np.deg2rad(robot.home))
    return Arm("left", f"{DATA}/{robot.urdf}", robot.root, robot.tip, Pose(), home, (5.0,) * len(home))


@pytest.mark.parametrize(
    ("left", "right"),
    [(SIX_AXES, SIX_AXES), (SEVEN_AXES, SEVEN_AXES), (SEVEN_MORE, SEVEN_MORE), (SIX_AXES, SEVEN_AXES)],
    ids=["six axes", "seven axes", "seven axes of another make", "six and seven axes of two makes"],
)
def test_a_small_cell_is_planned_and_proven(left: Robot, right: Robot, tmp_path: Path) -> None:
    folder = write_cell(tmp_path / "cell", left, right)
    before = folder_sha256(folder)
    checked = check_folder(folder)
    assert isinstance(checked, CheckedProject), checked
    chart = plan(checked, seed=1)
    assert isinstance(chart.body, Chart), chart.body
    assert chart.body.mates == ("pin-in-bore",)
    proof = verify(checked.project, chart).body
    assert proof.violations == ()
    # How many places were looked at: a few a motion at least, so that the proof was not of nothing.
    assert proof.configurations > 3 * sum(len(e.motions) for e in chart.body.elements) > 0
    assert folder_sha256(folder) == before
    hashed = {f.path for f in checked.project.inputs}
    assert {f"{DATA}/{left.urdf}", f"{DATA}/{right.urdf}"} <= hashed
    assert sum(name.startswith(DATA) and name.endswith(".stl") for name in hashed) >= 7


def test_fingers_of_the_data_are_part_of_the_hand() -> None:
    chain = load_chain(arm(SEVEN_AXES), "")
    links = [link for link, _ in chain.solids]
    assert chain.n == 7
    assert links.count(6) >= 9  # the last link, the hand it carries, and the boxes of two fingers on joints


@pytest.mark.parametrize("robot", ROBOTS.values(), ids=ROBOTS)
def test_inverse_kinematics_by_pinocchios_forward(robot: Robot) -> None:
    chain = load_chain(arm(robot), "")
    model = pin.buildModelFromUrdf(str(package_file(f"{DATA}/{robot.urdf}").locate()))
    data = model.createData()
    root, tip = model.getFrameId(robot.root), model.getFrameId(robot.tip)
    drawn = np.random.default_rng(3).uniform(chain.lower, chain.upper, (40, chain.n))
    targets = forward(chain, drawn)
    q, valid = inverse(chain, targets, chain.home)
    assert valid.any(axis=1).mean() >= 0.95  # the numeric inverse may miss a target near a limit
    for target, solutions, good in zip(targets, q, valid, strict=True):
        for solution in solutions[good]:
            assert np.all((solution >= chain.lower) & (solution <= chain.upper))
            full = pin.neutral(model)
            full[: chain.n] = solution
            pin.framesForwardKinematics(model, data, full)
            reached = (data.oMf[root].inverse() * data.oMf[tip]).homogeneous
            np.testing.assert_allclose(reached, target, atol=1e-8)


def test_the_makers_table_is_the_arm_of_the_data() -> None:
    lengths, urdf = load_chain(by_lengths(PARALLEL), ""), load_chain(arm(SIX_AXES), "")
    for q in np.random.default_rng(4).uniform(-3, 3, (20, 6)):
        position, turned = se3.distance(forward(lengths, q)[0], forward(urdf, q)[0])
        assert position < 1e-5
        # How the flange frame is turned about its own z is each description's own affair.
        assert forward(lengths, q)[0][:3, 2] == pytest.approx(forward(urdf, q)[0][:3, 2], abs=1e-4)
        assert turned >= 0


SLIPS = [
    (f"urdf: {DATA}/ur_description/urdf/none.urdf", "package-file", "example-robot-data", "none.urdf"),
    ("urdf: package:no-such-robot-data/arm.urdf", "package-file", "installed package", "no-such-robot-data"),
    ("urdf: package:example-robot-data/../../../pyvenv.urdf", "package-file", "inside package", "../../.."),
    ("urdf: package:example-robot-data", "wrong-value", "package:NAME/path", "example-robot-data"),
    (f"urdf: {DATA}/kinova_description/robots/kinova.urdf", "arm-unloadable", "loaded", "base_link"),
]


@pytest.mark.parametrize(("written", "rule", "expected", "found"), SLIPS, ids=[s[0][-30:] for s in SLIPS])
def test_slips_in_naming_installed_data(
    written: str, rule: str, expected: str, found: str, tmp_path: Path
) -> None:
    folder = write_cell(tmp_path / "cell", SIX_AXES, SEVEN_AXES)
    line = edit(folder, "cell.yaml", f"urdf: {DATA}/{SIX_AXES.urdf}", written)
    (finding,) = [f for f in _findings(folder) if f.rule == rule]
    assert (finding.file, finding.line) == ("cell.yaml", line)
    assert expected in finding.expected
    assert found in finding.found


def test_link_meshes_of_another_format_are_told_with_the_way_out(tmp_path: Path) -> None:
    folder = write_cell(tmp_path / "cell", SIX_AXES, SEVEN_AXES)
    text = (folder / "cell.yaml").read_text()
    old = text[text.index("    urdf:") : text.index("    base:")]
    new = f"    urdf: {DATA}/kinova_description/robots/kinova.urdf\n    root: j2s6s200_link_base\n"
    edit_to = text.replace(old, f"{new}    tip: j2s6s200_end_effector\n").replace(
        "[0 deg, -90 deg, 90 deg, -90 deg, -90 deg, 0 deg]",
        "[0 deg, 180 deg, 180 deg, 0 deg, 180 deg, 0 deg]",
    )
    (folder / "cell.yaml").write_text(edit_to)
    told = [f for f in _findings(folder) if f.rule == "link-mesh"]
    assert told
    assert all(".dae" in f.found and "convert package:example-robot-data" in f.fix for f in told)


def _findings(folder: Path) -> tuple[Finding, ...]:
    verdict = check_folder(folder)
    assert not isinstance(verdict, CheckedProject)
    return tuple(f for f in verdict if f.severity == "error")
