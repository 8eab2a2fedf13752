"""Timed joint paths for a robot controller: sampled as CSV, exact as JSON, with units and frames written in.

These move machines. The header carries the caution; whoever plays them adds the touches, forces and checks
that the control plan lists: a path alone knows nothing of contact.
"""

from __future__ import annotations

import json
from typing import Any

import numpy as np

from handfast.kinematics.chain import Chain
from handfast.model.chart import Chart
from handfast.model.motion import Motion
from handfast.model.project import Project
from handfast.page.cautions import CAUTIONS
from handfast.page.page_input import PageInput
from handfast.spatial.se3 import Array

_RULE = (
    "constant joint acceleration between knots: with h = t[i+1] - t[i], "
    "q(t[i] + s) = q[i] + v[i] s + (v[i+1] - v[i]) s^2 / (2 h)"
)


def joint_paths_csv(page: PageInput, chains: dict[str, Chain]) -> str:
    """A line each controller period: time, then angle and speed of each joint of each arm. Lines that begin
    with # are the header: units, frames, cautions, hashes."""
    chart, project = page.chart.body, page.project
    period = project.cell.controller.cycle
    times = sample_times(chart, period)
    columns = ["time_s"]
    values = [times[:, None]]
    for arm in chart.hands:
        q, v = sampled(chart, chains[arm], times)
        columns += [f"{arm}.{joint}_{unit}" for unit in ("rad", "rad_per_s") for joint in chains[arm].joints]
        values += [q, v]
    table = np.concatenate(values, axis=1)
    head = [
        f"joint paths of {chart.project}, chart sha256 {page.chart_sha256}, seed {page.chart.seed}",
        *CAUTIONS,
        "A path alone knows nothing of contact: see the control plan for touches, forces and checks.",
        f"time in s from the start of the cycle, a line each {period:g} s (controller period)",
        "angles in rad, zero as in the URDF; speeds in rad/s; joints from root to tip",
        *(f"{arm} arm: {frame_words(project, arm)}" for arm in chart.hands),
    ]
    lines = [*(f"# {text}" for text in head), ",".join(columns)]
    lines += [",".join([f"{row[0]:.4f}", *(f"{x:.9f}" for x in row[1:])]) for row in table]
    return "\n".join(lines) + "\n"


def joint_paths_json(page: PageInput, chains: dict[str, Chain]) -> str:
    """Every motion with its knots, exactly as planned and proved."""
    chart, project = page.chart.body, page.project
    document: dict[str, Any] = {
        "kind": "joint-paths",
        "project": chart.project,
        "chart_sha256": page.chart_sha256,
        "seed": page.chart.seed,
        "cautions": list(CAUTIONS),
        "units": {"time": "s", "angle": "rad", "speed": "rad/s", "length": "m"},
        "frames": "poses are T_parent_child; quaternions are w, x, y, z; world is that of the cell file",
        "interpolation": _RULE,
        "cycle_s": chart.makespan_s,
        "arms": [_arm(project, chart, chains[arm]) for arm in chart.hands],
    }
    return json.dumps(document, indent=1, allow_nan=False) + "\n"


def _arm(project: Project, chart: Chart, chain: Chain) -> dict[str, Any]:
    own = project.cell.arm(chain.name)
    grip = project.cell.gripper_of(chain.name)
    return {
        "name": chain.name,
        "joints": list(chain.joints),
        "urdf": own.urdf,
        "root": own.root,
        "tip": own.tip,
        "T_world_root": {"position": list(own.base.position), "quaternion": list(own.base.quaternion)},
        "T_tip_grip": {"position": list(grip.mount.position), "quaternion": list(grip.mount.quaternion)},
        "home": [float(q) for q in chain.home],
        "motions": [
            {
                "element": element.number, "id": element.id, "start_s": start, "path": motion.path,
                "t": list(motion.t), "q": [list(q) for q in motion.q], "v": [list(v) for v in motion.v],
            }
            for element, start, motion in motions_of(chart, chain.name)
        ],
    }  # fmt: skip


def frame_words(project: Project, arm: str) -> str:
    """From which link to which, and where the root stands."""
    own = project.cell.arm(arm)
    place = ", ".join(f"{v:.6g}" for v in own.base.position)
    turn = ", ".join(f"{v:.9g}" for v in own.base.quaternion)
    return (
        f"{own.urdf or 'data sheet'} from {own.root or 'root'} to {own.tip or 'tip'}; T_world_root position "
        f"[m] {place}; quaternion (w, x, y, z) {turn}"
    )


def motions_of(chart: Chart, arm: str) -> list[tuple[Any, float, Motion]]:
    """Element, start in the chart [s] and motion, in the order of time."""
    found = []
    for element in sorted((e for e in chart.elements if e.hand == arm), key=lambda e: e.start_s):
        start = element.start_s + element.before_s
        for motion in element.motions:
            found.append((element, start, motion))
            start += motion.duration
    return found


def sample_times(chart: Chart, period: float) -> Array:
    """From 0 to the end of the cycle [s]; the end itself is the last."""
    grid = np.arange(int(chart.makespan_s / period) + 1) * period
    end = [chart.makespan_s] if chart.makespan_s - grid[-1] > 1e-9 else []
    return np.asarray(np.concatenate([grid, end]), dtype=np.float64)


def sampled(chart: Chart, chain: Chain, times: Array) -> tuple[Array, Array]:
    """Q [rad] and v [rad/s], both (k, n), at times (k,) that rise [s]; at rest between motions."""
    q = np.repeat(chain.home[None], len(times), axis=0)
    v = np.zeros_like(q)
    for _, start, motion in motions_of(chart, chain.name):
        t, knots, speeds = np.array(motion.t), np.array(motion.q), np.array(motion.v)
        first, last = np.searchsorted(times, [start, start + t[-1]])
        q[last:] = knots[-1]
        s = times[first:last] - start
        i = np.clip(np.searchsorted(t, s, side="right") - 1, 0, len(t) - 2)
        d, h = (s - t[i])[:, None], (t[i + 1] - t[i])[:, None]
        rise = (speeds[i + 1] - speeds[i]) / h
        q[first:last] = knots[i] + speeds[i] * d + rise * d * d / 2
        v[first:last] = speeds[i] + rise * d
    return q, v
