from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pinocchio
from tests.uncertainty import first_fit_chart as c

from handfast.model.element import Element
from handfast.model.motion import Motion
from handfast.uncertainty.hand_poses import hand_poses

ARM = c.PROJECT.cell.arm("right")
RNG = np.random.default_rng(6)
STOPS = [tuple(float(v) for v in np.array(ARM.home) + RNG.uniform(-0.5, 0.5, 6)) for _ in range(5)]


def motion(start: int, end: int) -> Motion:
    still = (0.0,) * 6
    return Motion("right", "line", (0.0, 1.0), (STOPS[start], STOPS[end]), (still, still))


def grip_by_pinocchio(q: tuple[float, ...]) -> np.ndarray:
    model = pinocchio.buildModelFromUrdf(str(Path(c.PROJECT.folder) / ARM.urdf))
    data = model.createData()
    pinocchio.framesForwardKinematics(model, data, np.array(q))
    root, tip = (data.oMf[model.getFrameId(name)].homogeneous for name in (ARM.root, ARM.tip))
    mount = c.PROJECT.cell.gripper_of("right").mount.matrix
    return np.asarray(ARM.base.matrix @ np.linalg.inv(root) @ tip @ mount)


def test_the_hand_stands_where_the_last_motion_ends_and_at_a_touch_where_contact_is_expected() -> None:
    ways = (motion(0, 1), motion(1, 2), motion(2, 3), motion(3, 4))
    base = Element(
        "mate/01-move-right", 1, "right", "move", "pin", "block.end", "pin-in-bore", 0.0, 4.0, motions=ways
    )
    touch = replace(base, id="mate/02-locate-right", kind="locate", touch=c.TOUCH, guarded=1)
    idle = replace(base, id="mate/03-hold-right", kind="hold", motions=())
    poses = hand_poses(c.PROJECT, replace(c.chart(), elements=(base, touch, idle)))
    assert set(poses) == {base.id, touch.id}
    np.testing.assert_allclose(poses[base.id], grip_by_pinocchio(STOPS[4]), atol=1e-9)
    np.testing.assert_allclose(poses[touch.id], grip_by_pinocchio(STOPS[2]), atol=1e-9)
