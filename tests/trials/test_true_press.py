"""Pressing in: Lame's rings solved numerically, a table value by hand, rims by plain geometry, and a run."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.trials.bench_chart import GRASP, bench_chart, bench_project
from tests.trials.test_simulated_cell import at_the_pin, chains, closed

from handfast.execution.executor import execute
from handfast.model.chart import Chart
from handfast.model.project import Project
from handfast.spatial import se3
from handfast.trials.draw import Draws
from handfast.trials.insertion import Insertion
from handfast.trials.simulated_cell import SimulatedCell
from handfast.trials.true_cell import TrueCell
from handfast.trials.true_insertion import HandWay
from handfast.trials.true_press import joint_pressure, not_led_in, pressed_pairs, push_force
from handfast.trials.true_task import true_task

STEEL, ALUMINIUM = 210e9, 70e9


def widened(pressure: float, radius: float, outside: float, modulus: float) -> float:
    """Of a ring's bore under pressure from inside [m]: equilibrium u'' + u'/r - u/r^2 = 0 in plane stress, by
    finite differences."""
    n, nu = 4001, 0.3
    r = np.linspace(radius, outside, n)
    h = r[1] - r[0]
    A, b = np.zeros((3, n)), np.zeros(n)
    inner = slice(1, n - 1)
    A[0, inner], A[2, inner] = 1 / h**2 - 1 / (2 * h * r[inner]), 1 / h**2 + 1 / (2 * h * r[inner])
    A[1, inner] = -2 / h**2 - 1 / r[inner] ** 2
    full = np.zeros((n, n))
    rows = np.arange(1, n - 1)
    full[rows, rows - 1], full[rows, rows], full[rows, rows + 1] = A[0, inner], A[1, inner], A[2, inner]
    of = modulus / (1 - nu**2)
    # Radial stress E/(1 - nu^2) (u' + nu u/r): -p inside, none outside; one-sided slopes of second order.
    full[0, :3] = of * np.array([-3, 4, -1]) / (2 * h)
    full[0, 0] += of * nu / radius
    full[-1, -3:] = of * np.array([1, -4, 3]) / (2 * h)
    full[-1, -1] += of * nu / outside
    b[0] = -pressure
    return float(np.linalg.solve(full, b)[0])


def test_pressure_closes_the_gap_between_two_rings() -> None:
    """An aluminium hub of 16 mm on a steel shaft of 8 mm, 10 um over on the radius: the pressure widens the
    one and narrows the other by that together. The solid shaft: u = -p r (1 - nu) / E."""
    p = joint_pressure(10e-6, 4e-3, 8e-3, ALUMINIUM, STEEL)
    small = p * 4e-3 * (1 - 0.3) / STEEL
    assert widened(p, 4e-3, 8e-3, ALUMINIUM) + small == pytest.approx(10e-6, rel=1e-4)


def test_steel_in_a_large_steel_body_by_hand() -> None:
    """p = Z E / (2 D): 24 um on 8 mm are 315 MPa; nothing presses where there is play."""
    assert joint_pressure(12e-6, 4e-3, math.inf, STEEL, STEEL) == pytest.approx(315e6)
    assert joint_pressure(-1e-6, 4e-3, math.inf, STEEL, STEEL) == 0.0


def press_project(**changed: object) -> Project:
    """The bench's pin as 8 p6 (+15/+24 um) in 8 H7 (0/+15 um; ISO 286-1), pressed."""
    project = bench_project()
    pin = project.product.part("pin")
    features = tuple(replace(f, fit="p6") if f.name == "tip" else f for f in pin.features)
    parts = tuple(replace(p, features=features) if p.name == "pin" else p for p in project.product.parts)
    mates = tuple(replace(m, kind="press", **changed) for m in project.product.mates)  # type: ignore[arg-type]
    return replace(project, product=replace(project.product, parts=parts, mates=mates))


def task_of(project: Project, build: int = 0, seed: int = 7) -> tuple[TrueCell, Insertion]:
    """The pin held over its bore, sizes drawn."""
    cell = at_the_pin(project)
    cell.draws = Draws((), seed, build)
    closed(cell)
    line = bench_chart(project).elements[6].motions[-1]
    way = HandWay(*(cell.T_world_grip("right", np.array(q)) for q in (line.q[0], line.q[-1])))
    return cell, true_task(cell, project.product.mates[0], way, 50.0)


def test_the_force_is_that_of_the_drawn_sizes() -> None:
    cell, task = task_of(press_project())
    (pair,) = pressed_pairs(task)
    over = -2 * pair.clearance
    assert 0 < over <= 24e-6
    mu = task.friction
    wanted = mu * over * STEEL / (2 * 8e-3) * math.pi * 8e-3 * 20e-3
    assert push_force(cell, task, pair, 20e-3) == pytest.approx(wanted, rel=1e-4)


def aside(task: Insertion, x: float, lean: float) -> Insertion:
    """The pin's tip that far aside at the mouth, leaning about y."""
    tip = np.array([x, 0.0, 0.0])
    lean_T = se3.rotation(np.array([0.0, 1.0, 0.0]), lean)
    return replace(task, T_start=led(task.T_start, tip, lean_T), T_home=led(task.T_home, tip, lean_T))


def led(T: np.ndarray, tip: np.ndarray, lean: np.ndarray) -> np.ndarray:
    out = np.eye(4)
    out[:3, :3] = lean[:3, :3] @ T[:3, :3]
    out[:3, 3] = [tip[0], tip[1], T[2, 3]]
    return out


@pytest.mark.parametrize(
    ("x", "lean", "cause"),
    [
        (0.0, 0.0, ""),
        (0.48e-3, 0.0, ""),  # the bore's lead-in is 0.5 mm wide, the tip sharp, half the interference over
        (0.51e-3, 0.0, "missed the lead-in"),
        (0.0, 0.058, ""),  # 8 mm sin 0.058 = 0.464 mm, the lead-in is 0.5 mm high less the interference
        (0.0, 0.064, "stands too oblique to be pressed in"),  # 0.512 mm
    ],
)
def test_the_shaft_finds_its_way_in_within_the_lead_in(x: float, lean: float, cause: str) -> None:
    _, task = task_of(press_project())
    assert not_led_in(aside(task, x, lean), pressed_pairs(task)[0]) == cause


def test_what_the_hand_cannot_press_stops_the_run_with_both_forces() -> None:
    project = press_project()
    cell = SimulatedCell(project, chains(project), Draws((), 7, 0), (GRASP,))
    log = execute(project, bench_chart(project), None, cell, touches=False)
    assert (log.ended, log.cause) == ("stopped", "did not go in")
    (tried,) = cell.tries
    assert tried.cause.startswith("pressing takes ")
    assert tried.cause.endswith(" N, the hand gives 38 N")  # half of the grasp's 76 N; the mate allows 50
    assert tried.cause in log.reason
    assert tried.peak_force == pytest.approx(38.0)


class Strong(SimulatedCell):
    """Jaws that press with 60 kN."""

    def grip(self, arm: str, width: float, force: float) -> float:
        return super().grip(arm, width, 60e3)


def test_what_a_press_can_give_goes_home_in_line_with_its_bore() -> None:
    project = press_project(force_limit=60e3)
    cell = Strong(project, chains(project), Draws((), 7, 0), (replace(GRASP, slip_force=120e3),))
    log = execute(project, strong_chart(project), None, cell, touches=False)
    assert log.ended == "done", log.reason
    (tried,) = cell.tries
    assert (tried.outcome, tried.cause) == ("ok", "")
    assert 1e3 < tried.peak_force < 24e3
    T = se3.inverse(cell.truth.T_world_feature("block", "bore")) @ cell.truth.T_world_feature("pin", "tip")
    assert T[:3, 3] == pytest.approx([0, 0, 20e-3], abs=2e-6)
    assert T[2, 2] == pytest.approx(1.0, abs=1e-12)


def strong_chart(project: Project) -> Chart:
    chart = bench_chart(project)
    elements = tuple(
        replace(e, grasp=replace(e.grasp, slip_force=120e3)) if e.grasp is not None else e
        for e in chart.elements
    )
    return replace(chart, elements=elements)


def test_as_many_are_pressed_in_as_lie_between_the_two_ends_of_the_ledger() -> None:
    """12 kN: hole and pin each normal, limits at three sigma, cut there; what friction of two thirds and of
    four thirds would give, counted by hand, holds what the true friction gives."""
    project = press_project()
    drawn, forces = 300, []
    for build in range(drawn):
        cell, task = task_of(project, build)
        pairs = pressed_pairs(task)
        forces.append(push_force(cell, task, pairs[0], 20e-3) if pairs else 0.0)
    counted = sum(f <= 12e3 for f in forces) / drawn
    rng = np.random.default_rng(8)
    over = rng.normal(19.5e-6, 1.5e-6, 200_000) - rng.normal(7.5e-6, 2.5e-6, 200_000)
    per_metre = 0.15 * STEEL / (2 * 8e-3) * math.pi * 8e-3 * 20e-3
    expected = float(np.mean(per_metre * over <= 12e3))
    assert counted == pytest.approx(expected, abs=3 * math.sqrt(expected * (1 - expected) / drawn))
    hard, easy = (float(np.mean(per_metre * over * share <= 12e3)) for share in (4 / 3, 2 / 3))
    assert hard < counted < easy
