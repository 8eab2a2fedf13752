"""How far a bit runs out, from guarded moves against a ball at several spindle angles.

At the height s up from the tip the axis is off by o(s) = (ex - s ry, ey + s rx) in the bit's frame, and goes
round with the spindle. A ball along n is met earlier by n . Rz(angle) o(s): once-per-turn cosine and sine,
fitted by least squares beside one distance for each height. The intervals are those of the whole circle of
unknowns (Scheffe; the 95 % point of F with 2 and v freedoms is v/2 (0.05^(-2/v) - 1), exactly).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from handfast.belief.consistency import chi_square_quantile
from handfast.learning.spread import CONFIDENCE
from handfast.model.project import Project
from handfast.model.run_log import LogLine, RunLog
from handfast.model.source_proposal import SourceProposal
from handfast.spatial.se3 import Array

_LEAST = 8  # touches below which nothing is said: four unknowns and two distances stand in them


@dataclass(frozen=True, eq=False, slots=True)
class Runout:
    """offset (2,): of the axis at the tip when the spindle stood at 0, in the bit's frame [m]; tilt (2,): rx,
    ry [rad]; each with covariance (2, 2); sigma: of one touch [m]; freedoms: it rests on; count: touches."""

    offset: Array
    offset_covariance: Array
    tilt: Array
    tilt_covariance: Array
    sigma: float
    freedoms: int
    count: int


def runout_rows(project: Project, logs: Sequence[RunLog]) -> list[SourceProposal]:
    """For each tool that was turned against a ball, what its bit is off by along x and y, and about them."""
    out = []
    for tool in project.cell.tools:
        found = runout([ln for log in logs for ln in log.lines if ln.event == "bit" and ln.text == tool.name])
        if found is not None:
            out += _rows(project, tool.name, found)
    return out


def runout(lines: Sequence[LogLine]) -> Runout | None:
    """None for too few touches, or such as do not tell all four."""
    met = [ln for ln in lines if ln.value("met") and ln.pose is not None]
    heights = sorted({round(ln.value("height") or 0.0, 7) for ln in met})
    if len(met) < _LEAST:
        return None
    design, travel = np.zeros((len(met), 4 + len(heights))), np.zeros(len(met))
    for i, line in enumerate(met):
        angle, height = line.value("angle") or 0.0, line.value("height") or 0.0
        direction = np.array([line.value(n) or 0.0 for n in "xyz"])
        n = line.pose.matrix[:3, :3].T @ direction if line.pose is not None else direction
        x = n[0] * math.cos(angle) + n[1] * math.sin(angle)  # n in the frame that goes round
        y = -n[0] * math.sin(angle) + n[1] * math.cos(angle)
        design[i, :4] = (-x, -y, -height * y, height * x)
        design[i, 4 + heights.index(round(height, 7))] = 1.0
        travel[i] = line.value("travel") or 0.0
    freedoms = len(met) - design.shape[1]
    scale = np.array([1.0, 1, 0.01, 0.01, *([1.0] * len(heights))])
    if freedoms < 1 or np.linalg.matrix_rank(design * scale, tol=1e-6) < design.shape[1]:
        return None
    inverse = np.linalg.inv(design.T @ design)
    x = inverse @ design.T @ travel
    left = travel - design @ x
    sigma = math.sqrt(float(left @ left) / freedoms)
    covariance = np.asarray(sigma**2 * inverse, dtype=np.float64)
    return Runout(x[:2], covariance[:2, :2], x[2:4], covariance[2:4, 2:4], sigma, freedoms, len(met))


def amplitude(value: Array, covariance: Array, freedoms: int) -> tuple[float, tuple[float, float]]:
    """Length of a vector (2,), and the interval that holds at least as often as CONFIDENCE says."""
    found = float(np.linalg.norm(value))
    f = 0.5 * freedoms * ((1 - CONFIDENCE) ** (-2 / freedoms) - 1)
    half = math.sqrt(2 * f * float(np.linalg.eigvalsh(covariance)[-1]))
    return found, (max(0.0, found - half), found + half)


def _rows(project: Project, tool: str, found: Runout) -> list[SourceProposal]:
    """A bit that is off by an amplitude a, wherever it stands in its turn, is off by a / sqrt 2 (rms) along
    each axis."""
    edge = f"tool.{tool}.bit"
    source = next((s for s in project.errors if s.acts_on == edge), None)
    out = []
    for first, value, covariance in (
        (0, found.offset, found.offset_covariance),
        (3, found.tilt, found.tilt_covariance),
    ):
        size, (low, high) = amplitude(value, covariance, found.freedoms)
        unit = "mm" if first == 0 else "mrad"
        what = "off its spindle's axis at the tip" if first == 0 else "tilted to it"
        total = f"; a dial gauge there would show {2e3 * size:.3f} mm" if first == 0 else ""
        text = (
            f"{found.count} touches over turns of the spindle, {1e6 * found.sigma:.0f} um each: {what} by "
            f"{1e3 * size:.3f} {unit} ({1e3 * low:.3f} to {1e3 * high:.3f}){total}. Of this bit as it is "
            "chucked now: measure again when it is changed"
        )
        for axis in (first, first + 1):
            declared = 0.0 if source is None else source.sigma[axis]
            # Of a bit drawn from what is declared the amplitude is Rayleigh: its square over sigma^2 has two
            # freedoms.
            most = declared * math.sqrt(chi_square_quantile(0.5 + 0.5 * CONFIDENCE, 2))
            root = math.sqrt(2)
            out.append(
                SourceProposal(
                    source.name if source is not None else edge, axis, declared, size / root,
                    (low / root, high / root), found.count, low > most, text, offered=True,
                )
            )  # fmt: skip
    return out
