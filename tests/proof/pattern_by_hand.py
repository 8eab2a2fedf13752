"""Two screws on first-fit's cover, tightened together in three rounds, by hand. Only the replay can be tested
on it: the second screw has no hole in the meshes."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
from tests.proof.chart_by_hand import ByHand, duration, first_fit
from tests.proof.first_fit_by_hand import CLOSE, at, cover_on, driver_taken, pin_in

from handfast.model.chart import Chart
from handfast.model.feature import Feature
from handfast.model.holder import Place
from handfast.model.project import Project
from handfast.model.scene import Attachment
from handfast.model.tightening import Stage, Tightening
from handfast.spatial import se3
from handfast.spatial.pose import Pose

TURN = 2 * np.pi
PITCH = 0.7
"""Of M4 [mm]: ISO 261."""
SNUG, FINAL = 0.3, 1.8
BEARS = 0.08
"""Left for the last round [mm]."""
HOME = 55 + 215
"""Height of the hand when a screw is home [mm]."""
BESIDE = {"screw": 0, "screw_2": 15}
"""How far along y each screw's thread lies from the first one's [mm]."""


def two_screws() -> Project:
    """first-fit with a second screw, 20 mm beside the first in the presenter, and a pattern over both."""
    project = first_fit()
    product, cell = project.product, project.cell
    parts = []
    for part in product.parts:
        if part.name == "block":
            tapped = _beside(part.feature("tapped"), "tapped_2")
            parts.append(replace(part, features=(*part.features, tapped)))
        else:
            parts.append(part)
    parts.append(replace(product.part("screw"), name="screw_2"))
    first = product.mate("cover-screw")
    pair = replace(first.pairs[0], fixed="tapped_2")
    second = replace(first, name="second-screw", part="screw_2", pairs=(pair,))
    stages = (Stage(turns=2 * TURN), Stage(torque=SNUG), Stage(torque=FINAL))
    pattern = Tightening("lid", ("cover-screw", "second-screw"), stages)
    product = replace(product, parts=tuple(parts), mates=(*product.mates, second), tightenings=(pattern,))
    presenter = cell.holder("presenter")
    place = presenter.places[0]
    aside = Pose.from_matrix(se3.translation(0.0, 0.02, 0.0) @ place.pose.matrix)
    more = Place("second", aside, "screw_2", place.slack, place.slack_angle)
    holders = tuple(
        replace(h, places=(*h.places, more)) if h.name == "presenter" else h for h in cell.holders
    )
    return replace(project, product=product, cell=replace(cell, holders=holders))


def _beside(feature: Feature, name: str) -> Feature:
    moved = se3.translation(0.0, BESIDE["screw_2"] / 1e3, 0.0) @ feature.frame.matrix
    return replace(feature, name=name, frame=Pose.from_matrix(moved))


@cache
def pattern_by_hand() -> tuple[Project, Chart]:
    """The project and its chart, in which every round is as it should be."""
    b = ByHand(two_screws())
    pin_in(b)
    cover_on(b)
    driver_taken(b)
    for screw, y in (("screw", 520), ("screw_2", 540)):
        _take_up(b, screw, y)
        _drive(b, screw, 6.0, 6.0 - 2 * PITCH, turns=2 * TURN)
    for screw in ("screw", "screw_2"):
        _drive(b, screw, 6.0 - 2 * PITCH, BEARS, torque=SNUG)
        if screw == "screw":
            _let_the_cover_go(b)
    for screw in ("screw", "screw_2"):
        _drive(b, screw, BEARS, 0.0, torque=FINAL)
    return b.project, b.chart({"left": 0.070, "right": 0.070})


def _mate(screw: str) -> str:
    return "cover-screw" if screw == "screw" else "second-screw"


def _take_up(b: ByHand, screw: str, y: float) -> None:
    fetch = (
        b.line("right", at(*_here(b), 380))
        + b.free("right", at(230, y, 330))
        + b.line("right", at(230, y, 34 + 215))
    )
    b.add("right", "move", "driver", duration(fetch), motions=fetch, opening=0.030, mate=_mate(screw))
    bit = b.project.cell.tool("driver").bit.matrix
    T_bit = se3.translation(0.23, y / 1e3, 0.034) @ bit
    T_bit_screw = se3.inverse(T_bit) @ se3.translation(0.23, y / 1e3, 0.030)
    leaves = Attachment(screw, "tool.driver", Pose.from_matrix(T_bit_screw))
    b.add("right", "use", screw, 0.3, leaves=leaves, opening=0.030, mate=_mate(screw))


def _here(b: ByHand) -> tuple[float, float]:
    own = b.hands["right"]
    x, y = own.grip(own.q)[:2, 3] * 1e3
    return float(x), float(y)


def _drive(
    b: ByHand, screw: str, start: float, end: float, turns: float | None = None, torque: float | None = None
) -> None:
    """From `start` to `end` [mm] before home, then 60 mm up."""
    y, mate = 450 + BESIDE[screw], _mate(screw)
    come = (
        b.line("right", at(*_here(b), 340))
        + b.free("right", at(38, y, 340))
        + b.line("right", at(38, y, HOME + start))
    )
    b.add("right", "position", "driver", duration(come), motions=come, opening=0.030, mate=mate)
    down = b.line("right", at(38, y, HOME + end), 4e-3)
    T_block = se3.inverse(se3.translation(0, 0.45, 0.015))
    T_screw = se3.translation(0.038, y / 1e3, 0.051 + end / 1e3)
    leaves = Attachment(screw, "part.block", Pose.from_matrix(T_block @ T_screw))
    made = turns if turns is not None else (start - end) / PITCH * TURN
    b.add(
        "right", "use", screw, duration(down, 0.5), motions=down, leaves=leaves, opening=0.030, mate=mate,
        torque=torque, turns=made,
    )  # fmt: skip
    up = b.line("right", at(38, y, 340))
    b.add("right", "move", "driver", duration(up), motions=up, opening=0.030, mate=mate)


def _let_the_cover_go(b: ByHand) -> None:
    T_block_cover = se3.inverse(se3.translation(0, 0.45, 0.015)) @ se3.translation(0, 0.45, 0.045)
    leaves = Attachment("cover", "part.block", Pose.from_matrix(T_block_cover))
    home = b.joints("left", b.project.cell.arm("left").home)
    b.add(
        "left", "release", "cover", duration(home, CLOSE), motions=home, opening=0.060, leaves=leaves,
        mate="cover-on-block",
    )  # fmt: skip
