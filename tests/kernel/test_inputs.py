from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from handfast import _kernel

from .arms import OFFSET_SHOULDER, chain_of, kernel_arm, kernel_cover, limb_shell
from .twin import Chain

CHAIN = chain_of(OFFSET_SHOULDER)
ARM = kernel_arm(CHAIN)
COVER = kernel_cover(limb_shell(CHAIN))
WORLD = _kernel.World()
Q = np.zeros((2, 6))


def changed(**parts: object) -> Chain:
    fields = {name: getattr(CHAIN, name) for name in ("placements", "axes", "tip", "base", "lo", "hi")}
    return Chain(**{**fields, **parts})


MIRROR = np.diag([1.0, 1.0, -1.0, 1.0])

WRONG: dict[str, Callable[[], object]] = {
    "q: expected shape (any, 6), found (2, 5)": lambda: _kernel.fk(ARM, np.zeros((2, 5))),
    "q: expected shape (any, 6), found (6)": lambda: _kernel.free(COVER, WORLD, np.zeros(6)),
    "q: entry 7 is not finite": lambda: _kernel.free(
        COVER, WORLD, np.where(np.arange(12) == 7, np.nan, 0.0).reshape(2, 6)
    ),
    "qb: expected shape (2, 6), found (3, 6)": lambda: _kernel.edge_free(COVER, WORLD, Q, np.zeros((3, 6))),
    "targets: expected shape (any, 4, 4), found (4, 4)": lambda: _kernel.ik(ARM, np.eye(4)),
    "targets[0]: expected a rotation": lambda: _kernel.ik(ARM, 2 * np.eye(4)[None]),
    "near: expected shape (1, 6), found (2, 6)": lambda: _kernel.ik(ARM, np.eye(4)[None], Q),
    "placements[1]: expected a rotation": lambda: kernel_arm(
        changed(placements=np.stack([np.eye(4), MIRROR, *[np.eye(4)] * 4]))
    ),
    "that mirrors": lambda: kernel_arm(changed(tip=MIRROR)),
    "axes[2]: expected a unit vector, found length 2": lambda: kernel_arm(
        changed(axes=CHAIN.axes * np.array([1, 1, 2, 1, 1, 1])[:, None])
    ),
    "lo[0]: expected at most hi": lambda: kernel_arm(changed(lo=np.full(6, 4.0))),
    "placements: expected 1 to 12 joints, found 0": lambda: _kernel.Arm(
        np.zeros((0, 4, 4)), np.zeros((0, 3)), np.eye(4), np.eye(4), [], []
    ),
    "links: expected links -1 to 6, found 7": lambda: _kernel.Cover(ARM, [[0, 0, 0, 0.1]], [7]),
    "pairs: expected links -1 to 6, found -2": lambda: _kernel.Cover(ARM, [[0, 0, 0, 0.1]], [0], [[0, -2]]),
    "spheres[0]: expected a positive radius": lambda: _kernel.Cover(ARM, [[0, 0, 0, 0.0]], [0]),
    "masks: expected shape (1), found (2)": lambda: _kernel.Cover(ARM, [[0, 0, 0, 0.1]], [0], masks=[1, 2]),
    "margin: expected more than minus the smallest radius": lambda: _kernel.free(COVER, WORLD, Q, -0.05),
    "resolution, margin: expected": lambda: _kernel.edge_free(COVER, WORLD, Q, Q, 0.0, 0.0),
    "box_poses and box_halves: expected both": lambda: _kernel.World(box_poses=np.eye(4)[None]),
    "box_halves[0]: expected half extents": lambda: _kernel.World(
        box_poses=np.eye(4)[None], box_halves=[[1, -1, 1]]
    ),
    "capsules[0]: expected a positive radius": lambda: _kernel.World(capsules=[[0, 0, 0, 1, 0, 0, -1]]),
    "half_spaces[0]: expected a unit normal": lambda: _kernel.World(half_spaces=[[0, 0, 2, 0]]),
    "masks: expected shape (2), found (1)": lambda: _kernel.World(
        spheres=[[0, 0, 0, 1], [0, 0, 1, 1]], masks=[1]
    ),
    "stride: expected a positive number": lambda: _kernel.rrt_connect(COVER, WORLD, Q[0], Q, stride=0.0),
    "goals: expected shape (any, 6), found (6)": lambda: _kernel.rrt_connect(COVER, WORLD, Q[0], Q[0]),
    "vmax[1]: expected a positive limit": lambda: _kernel.time_path([[0, 0], [1, 1]], [1, 0], [1, 1], 0.0),
    "corner: expected at least 0": lambda: _kernel.time_path([[0], [1]], [1], [1], -1.0),
    "durations: expected shape (1), found (2)": lambda: _kernel.time_path([[0], [1]], [1], [1], 0.0, [1, 1]),
    "path: expected at least one waypoint": lambda: _kernel.time_path(np.zeros((0, 2)), [1, 1], [1, 1], 0.0),
}


@pytest.mark.parametrize("message", WRONG)
def test_a_wrong_argument_is_named_with_what_was_expected_and_found(message: str) -> None:
    with pytest.raises(ValueError, match=r"expected|finite") as error:
        WRONG[message]()
    assert message in str(error.value)


def test_lists_integers_and_single_precision_are_taken() -> None:
    once = _kernel.fk(ARM, np.ones((1, 6)))
    np.testing.assert_array_equal(_kernel.fk(ARM, [[1] * 6]), once)
    np.testing.assert_array_equal(_kernel.fk(ARM, np.ones((1, 6), np.float32)), once)
    np.testing.assert_array_equal(_kernel.fk(ARM, np.asfortranarray(np.ones((1, 6)))), once)


def test_no_rows_give_no_rows() -> None:
    none = np.zeros((0, 6))
    assert _kernel.fk(ARM, none).shape == (0, 4, 4)
    assert _kernel.free(COVER, WORLD, none).shape == (0,)
    assert _kernel.clearance(COVER, WORLD, none).shape == (0,)
    assert _kernel.edge_free(COVER, WORLD, none, none).shape == (0,)
    assert _kernel.between(COVER, none, COVER, Q).shape == (0, 2)
    assert _kernel.ik(ARM, np.zeros((0, 4, 4)))[0].shape == (0, 8, 6)


def test_results_outlive_what_made_them() -> None:
    limits = kernel_arm(CHAIN).lo
    found = _kernel.nearest(kernel_cover(limb_shell(CHAIN)), WORLD, Q).distance
    arm = kernel_cover(limb_shell(CHAIN)).arm
    np.testing.assert_array_equal(limits, CHAIN.lo)
    assert found.shape == (2,)
    np.testing.assert_array_equal(_kernel.fk(arm, Q), _kernel.fk(ARM, Q))
