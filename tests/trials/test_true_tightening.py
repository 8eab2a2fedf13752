"""How tightening ends, in the first-fit product: lengths and friction drawn, the rest by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from tests.trials.test_true_screw import ready

from handfast.model.part import Part
from handfast.standards.general_tolerances import linear_tolerance
from handfast.standards.it_grades import it_width
from handfast.trials.draw import Draws
from handfast.trials.true_cell import TrueCell
from handfast.trials.true_tightening import tightened

BUILDS = 2000


def deep(length: float, build: int) -> TrueCell:
    """The thread in the block as deep as that [m]."""
    cell = ready()
    block = cell.project.product.part("block")
    features = tuple(replace(f, length=length) if f.name == "tapped" else f for f in block.features)
    parts: tuple[Part, ...] = tuple(
        replace(p, features=features) if p.name == "block" else p for p in cell.project.product.parts
    )
    product = replace(cell.project.product, parts=parts)
    return TrueCell(replace(cell.project, product=product), cell.chains, Draws((), 11, build))


def ends(cell: TrueCell, torque: float) -> str:
    return tightened(cell, cell.project.product.mate("cover-screw"), torque).ends


@pytest.mark.parametrize("sigmas", [-1.0, 0.0, 1.5])
def test_a_screw_meets_the_end_of_its_hole_as_often_as_lengths_have_it(sigmas: float) -> None:
    # M4 x 12 through 6 mm: 12 js15, 6 mm and the thread's depth of ISO 2768-1 m; all limits at three sigma.
    tolerances = (10 * it_width(12e-3, 10) / 2, linear_tolerance(6e-3), linear_tolerance(6e-3))
    sigma = math.hypot(*tolerances) / 3
    first = deep(6e-3 + sigmas * sigma, 0)
    bottomed = 0
    for build in range(BUILDS):
        first.draws = Draws((), 11, build)
        bottomed += ends(first, 1.8) == "bottomed"
    expected = 0.5 * math.erfc(sigmas / math.sqrt(2))
    spread = math.sqrt(expected * (1 - expected) / BUILDS)
    assert bottomed / BUILDS == pytest.approx(expected, abs=3.5 * spread + 0.004)  # cut at three sigma


def test_a_screw_strips_beyond_what_it_bears_and_not_below() -> None:
    # M4, A2-70: proof stress 450 MPa on 8.78 mm2 are 3.95 kN; the thread of 6 mm bears 11.9 kN. By hand, with
    # T = F (0.159 P + mu (0.578 d2 + Dkm / 2)), P 0.7, d2 3.545, Dkm 5.5 mm: 2.3 N m at friction 0.1, 4.2 at
    # 0.2.
    cell = deep(12e-3, 0)

    def share(torque: float) -> float:
        found = 0
        for build in range(300):
            cell.draws = Draws((), 11, build)
            found += ends(cell, torque) == "stripped"
        return found / 300

    assert share(1.5) == 0.0
    assert share(6.0) == 1.0
    assert share(2.8) == pytest.approx((2.8 - 2.34) / (4.24 - 2.34), abs=0.09)
