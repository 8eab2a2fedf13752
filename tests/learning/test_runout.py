"""The runout of a bit, from touches of a ball at several spindle angles."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import curve_fit  # type: ignore[import-untyped]  # it ships no types
from scipy.stats import binom, chi2, f  # type: ignore[import-untyped]  # it ships no types
from tests.learning import touched_balls as balls

from handfast.execution.cell import CellError
from handfast.execution.journal import Journal
from handfast.execution.person import Answered
from handfast.execution.turn_bit import Turning, turn_bits
from handfast.learning.runout import amplitude, runout, runout_rows
from handfast.model.error_source import ErrorSource
from handfast.model.project import Project
from handfast.model.run_log import LogLine, RunLog
from handfast.spatial import se3
from handfast.trials.simulated_cell import SimulatedCell

SEED = 9021  # fixed before the first run of the bands below
SIZE, TILT = 0.08e-3, float(np.radians(0.15))


def bit(size: float = SIZE, tilt: float = TILT) -> Project:
    """A bit that runs out so."""
    source = ErrorSource("bit runs out", "tool.driver.bit", (size, size, 5e-5, tilt, tilt, 0.0), "shift")
    return balls.project((*balls.declared(), source))


def turned(cell: SimulatedCell, repeats: int = 1) -> RunLog:
    project = balls.project()
    asked = Turning(balls.BALL, balls.BALL.stands[0], project.cell.tools, 12, repeats)
    log = turn_bits(project, cell, balls.chains(), balls.PLANNER, Answered(), Journal(cell, "cell"), asked)
    assert log.ended == "done", log.reason
    return log


def lines(log: RunLog) -> list[LogLine]:
    return [ln for ln in log.lines if ln.event == "bit"]


def test_the_tool_is_taken_up_turned_and_put_back() -> None:
    cell = balls.cell_of(bit(), SEED)
    log = turned(cell)
    assert len(lines(log)) == 2 * 12
    assert cell.truth.items["driver"].parent == "place.stand.driver"
    assert cell.truth.spun["driver"] == pytest.approx(4 * np.pi)
    assert [h.holds for h in cell.truth.hands.values()] == [None, None]


@pytest.mark.slow
def test_offset_and_tilt_are_found_and_intervals_hold_at_least_as_often_as_they_say() -> None:
    """40 bits drawn by the simulated cell. The joint region of an amplitude is wider than it need be, so that
    only the lower end of the binomial band counts (0.1 %); the vectors themselves lie in the chi-square band
    of 160 freedoms (99.9 %; sigma is estimated from 18 freedoms, which widens it by 18 / 16)."""
    count, far = 40, 0.0
    held: list[bool] = []
    for i in range(count):
        cell = balls.cell_of(bit(), SEED + 1 + i)
        found = runout(lines(turned(cell)))
        assert found is not None
        true = se3.log(cell.truth.draws.deviation("tool.driver.bit"))
        for value, covariance, mine in (
            (found.offset, found.offset_covariance, true[:2]),
            (found.tilt, found.tilt_covariance, true[3:5]),
        ):
            far += float((value - mine) @ np.linalg.solve(covariance, value - mine))
            low, high = amplitude(value, covariance, found.freedoms)[1]
            held.append(bool(low <= np.linalg.norm(mine) <= high))
    assert sum(held) >= binom.ppf(0.001, 2 * count, 0.95)
    low, high = chi2.ppf([0.0005, 0.9995], 4 * count)
    assert low < far < high * 18 / 16


def test_the_fit_is_that_of_a_reference_library() -> None:
    told = lines(turned(balls.cell_of(bit(), SEED)))
    found = runout(told)
    assert found is not None
    angle, height, travel = (
        np.array([ln.value(name) for ln in told], dtype=float) for name in ("angle", "height", "travel")
    )
    first = told[0]
    assert first.pose is not None
    n = first.pose.matrix[:3, :3].T @ np.array([first.value(c) for c in "xyz"], dtype=float)

    def model(_: np.ndarray, ex: float, ey: float, rx: float, ry: float, a: float, b: float) -> np.ndarray:
        """Travel in um of an axis off by ex, ey [um], rx, ry [mrad]; the turn written out as a matrix."""
        out = []
        for t, s in zip(angle, height, strict=True):
            R = np.array([[np.cos(t), -np.sin(t)], [np.sin(t), np.cos(t)]])
            off = R @ np.array([ex - 1e3 * s * ry, ey + 1e3 * s * rx])
            out.append((a if s == height.min() else b) - n[:2] @ off)
        return np.array(out)

    best, covariance = curve_fit(model, angle, 1e6 * travel, p0=[0, 0, 0, 0, 5e3, 5e3])
    assert np.allclose(1e6 * found.offset, best[:2], atol=1e-2)
    assert np.allclose(1e3 * found.tilt, best[2:4], atol=1e-3)
    assert np.allclose(1e12 * found.offset_covariance, covariance[:2, :2], rtol=1e-3, atol=1e-2)


def test_the_interval_of_an_amplitude_is_that_of_the_f_table() -> None:
    """F with 2 and 18 freedoms at 95 % is 3.55 (tables); scipy has more digits."""
    length, (low, high) = amplitude(np.array([3.0, 4.0]), np.diag([0.01, 0.01]), 18)
    assert length == pytest.approx(5.0)
    assert high - length == pytest.approx(np.sqrt(2 * f.ppf(0.95, 2, 18) * 0.01))
    assert f.ppf(0.95, 2, 18) == pytest.approx(3.55, abs=0.01)
    assert length - low == pytest.approx(high - length)


def test_a_bit_that_runs_true_is_told_so_and_a_bent_one_is_refuted() -> None:
    project = bit()
    rows = runout_rows(project, [turned(balls.cell_of(bit(0.0, 0.0), SEED))])
    assert [r.freedom for r in rows] == [0, 1, 3, 4]
    assert all(r.offered for r in rows)
    assert not any(r.refuted for r in rows)
    assert all(r.interval[0] == 0.0 for r in rows)
    assert rows[0].observed < 0.03e-3
    found = runout_rows(project, [turned(balls.cell_of(bit(1e-3, 0.0), SEED), 2)])
    assert found[0].refuted
    assert "chucked now" in found[0].text


def test_too_few_angles_tell_nothing() -> None:
    told = lines(turned(balls.cell_of(bit(), SEED)))
    assert runout(told[:7]) is None
    assert runout([ln for ln in told if ln.value("angle") == 0.0] * 6) is None
    assert runout(told[:12]) is None  # one height does not tell offset from tilt


def test_without_a_tool_nothing_is_turned() -> None:
    with pytest.raises(CellError, match="take up the driver first"):
        balls.cell_of(bit(), SEED).turn("right", 1.0)
